import cv2
import numpy as np
import pytest

from outgrown.outline.likelihood import measure_log_ratio
from outgrown.outline.proposals import find_proposals, see_scene
from outgrown.outline.threads import do_both, share_out


@pytest.fixture(params=[1, 3])
def threads(request):
    before = cv2.getNumThreads()
    cv2.setNumThreads(request.param)
    yield request.param
    cv2.setNumThreads(before)


def test_results_keep_the_order_of_the_work(threads):
    assert share_out(lambda k: k * k, range(50)) == [k * k for k in range(50)]
    assert do_both(lambda: 1, lambda: "b") == (1, "b")


def test_a_failure_reaches_whoever_asked(threads):
    with pytest.raises(ZeroDivisionError):
        share_out(lambda k: 1 / k, [2, 1, 0])
    with pytest.raises(ZeroDivisionError):
        do_both(lambda: 1, lambda: 1 / 0)


def test_the_number_of_threads_changes_no_proposal_and_no_likelihood():
    rng = np.random.default_rng(3)
    picture = rng.integers(90, 130, (120, 160, 3)).astype(np.uint8)
    picture[30:90, 50:110] = (200, 60, 40)
    lab = rng.uniform(0, 60, (200, 41, 3)).astype(np.float32)
    depth = np.tile(np.arange(-20.0, 21.0), (200, 1))
    before = cv2.getNumThreads()
    found = []
    for count in (1, 3):
        cv2.setNumThreads(count)
        regions = find_proposals(see_scene(picture, np.zeros((120, 160), bool)))
        ratio = measure_log_ratio(lab, depth, depth < 99, 6.0, 8, np.abs(depth[0]) < 10)
        found.append((np.array(regions), ratio))
    cv2.setNumThreads(before)
    assert len(found[0][0]) > 3
    assert found[0][1].shape == (200, 19)
    assert np.array_equal(found[0][0], found[1][0])
    assert np.array_equal(found[0][1], found[1][1])
