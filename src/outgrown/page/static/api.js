// Asks the program for things. Every refusal becomes an Error with a sentence to show.

export class Refusal extends Error {
  constructor(problem, advice, status, question) {
    super([problem, advice].filter(Boolean).join(" "));
    this.problem = problem;
    this.advice = advice || "";
    this.status = status;
    this.question = question; // name of the choice that is wrong, empty where it is not known; undefined where none is
  }
}

async function answer(response) {
  if (response.ok) return response.json();
  const text = await response.text();
  let said = null;
  try { said = JSON.parse(text); } catch { /* a plain sentence */ }
  throw new Refusal(said ? said.problem : text, said ? said.advice : "", response.status, said?.question);
}

async function ask(path, how) {
  let response;
  try {
    response = await fetch(path, how);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refusal("The program does not answer.", "Is it still running? Start it again with “outgrown page”.", 0);
  }
  return answer(response);
}

export const get = (path) => ask(path);
export const post = (path, said = {}, signal) =>
  ask(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(said), signal });

/** What the program says it takes: a larger file is refused before it is sent, a longer name cannot be typed. */
export const limits = { most_photo_bytes: Infinity, too_large: "", longest_name: 0 };

/** Sends a photo as it is, without reading it into the page. */
export async function send(file, { work, role = "front" } = {}) {
  return sendTo("/api/photos", file, work ? { work, role } : { role });
}

export async function sendTo(path, file, said) {
  if (file.size > limits.most_photo_bytes) throw new Refusal(limits.too_large, "", 413);
  const query = new URLSearchParams({ name: file.name || "photo", ...said });
  return ask(`${path}?${query}`, { method: "POST", headers: { "Content-Type": file.type || "application/octet-stream" }, body: file });
}
