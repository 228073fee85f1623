/* Asking the local server. Addresses are relative, so the token of this session is never in the code.
   Every answer is an object; what went wrong stands in its `error`, what came too late has `stale`. */

const AWAY = "The local server does not answer. Is linkplan page still running in its window?";

/* Random for each load of the page: the server orders the requests of a tab. */
export const newTab = (name) => {
  const bytes = crypto.getRandomValues(new Uint8Array(6));
  return `t-${[...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("")}${name}`;
};

let serial = 0;
export const nextSerial = () => (serial += 1);

export const jobPath = (job, rest) => `api/job/${encodeURIComponent(job)}${rest ? `/${rest}` : ""}`;

async function send(path, options) {
  try {
    return await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") return { stale: true };
    return { error: { kind: "away", line: AWAY, faults: [] } };
  }
}

async function objectOf(answer) {
  if (!(answer instanceof Response)) return answer;
  try {
    const found = await answer.json();
    if (answer.ok || found.error) return found;
  } catch (error) {
    if (error.name === "AbortError") return { stale: true };
  }
  return { error: { kind: "internal", line: `The server answered with ${answer.status}.`, faults: [] } };
}

export const get = async (path) => objectOf(await send(path, { headers: { accept: "application/json" } }));

const posted = (body, signal) => ({
  method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body), signal,
});

export const post = async (path, body, signal) => objectOf(await send(path, posted(body, signal)));

export const upload = async (path, file) => objectOf(await send(path, {
  method: "POST", headers: { "content-type": "application/octet-stream" }, body: file,
}));

/* An answer with pictures: each gets its PNG as a blob. */
export async function framed(path, body, signal) {
  const answer = await send(path, posted(body, signal));
  if (!(answer instanceof Response)) return answer;
  if (!answer.ok) return objectOf(answer);
  try {
    const data = await answer.arrayBuffer();
    const length = new DataView(data).getUint32(0);
    const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, length)));
    for (const picture of head.pictures || []) {
      const bytes = new Uint8Array(data, 4 + length + picture.offset, picture.length);
      picture.blob = new Blob([bytes], { type: "image/png" });
    }
    return head;
  } catch (error) {
    if (error.name === "AbortError") return { stale: true };
    return { error: { kind: "internal", line: "The server's answer could not be read.", faults: [] } };
  }
}

/* The tab goes away: its work on the server ends. */
export const leave = (tab) => {
  fetch(`api/tabs/${tab}/leave`, { method: "POST", keepalive: true }).catch(() => {});
};
