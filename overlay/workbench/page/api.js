// Talks to the server this page came from. The run's secret comes behind the # of the address, which no browser
// sends anywhere; it is taken out of the address bar and kept for reloads of this tab.

const KEY = "bench-token";
if (location.hash.length > 1) {
  sessionStorage.setItem(KEY, location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
}
const headers = () => ({ "x-bench-token": sessionStorage.getItem(KEY) ?? "", "content-type": "application/json" });

export class Refusal extends Error {
  constructor(status, problems) {
    super(problems.join("\n"));
    this.status = status;
    this.problems = problems;
  }
}

async function answer(request) {
  let response;
  try {
    response = await request;
  } catch {
    throw new Refusal(0, ["the workbench has ended; start it again"]);
  }
  if (response.ok) return response;
  const text = await response.text();
  let problems = [text];
  try {
    problems = JSON.parse(text).problems ?? problems;
  } catch {
    // plain words
  }
  throw new Refusal(response.status, problems);
}

async function send(path, body) {
  const request = fetch(`/api/${path}`, { method: "POST", headers: headers(), body: JSON.stringify(body) });
  return (await answer(request)).json();
}

let asked = 0;
let open = 0;
export async function post(path, body = {}) {
  asked += 1;
  open += 1;
  try {
    return await send(path, body);
  } finally {
    open -= 1;
  }
}

// What the page asks of its own accord now and then. Null where anything else is asked meanwhile: that may write files
// itself, and its own answer tells of them.
export async function postAside(path, body) {
  if (open) return null;
  const before = asked;
  const told = await send(path, body);
  return asked === before ? told : null;
}

export async function temperatures(capture) {
  const request = fetch(`/api/frame?capture=${encodeURIComponent(capture)}`, { headers: headers() });
  return new Float32Array(await (await answer(request)).arrayBuffer());
}

// Sends the newest wish once the one under way is answered; what was overtaken is never sent. A note stays here and
// comes back with the answer.
export function newest(path, use) {
  let waiting = null;
  let busy = false;
  const send = async () => {
    busy = true;
    while (waiting) {
      const [body, note] = waiting;
      waiting = null;
      try {
        use(await post(path, body), body, note);
      } catch {
        // a hover or a drag that came to nothing is followed by the next
      }
    }
    busy = false;
  };
  const ask = (body, note) => {
    waiting = [body, note];
    if (!busy) send();
  };
  ask.drop = () => {
    waiting = null;
  };
  return ask;
}
