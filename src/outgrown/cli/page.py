"""`outgrown page`: the same as a local web page."""

import click


@click.command(short_help="Do all of it in your browser, without a terminal.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen at. Default: the first free one from 8765.")
@click.option("--browser/--no-browser", "opens_browser", default=True, help="Open the page in your browser.")
@click.option("--phone", "for_phone", is_flag=True, help="Let a phone in your home network come in with a code.")
def page(port: int | None, opens_browser: bool, for_phone: bool) -> None:
    """Open the page: from the photo to the printed pattern without a terminal.

    It runs on this computer, and nothing leaves it.
    """
    from ..page.serving import serve

    serve(port=port, opens_browser=opens_browser, for_phone=for_phone, say=click.echo)
