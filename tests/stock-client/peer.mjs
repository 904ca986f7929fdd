// The stock automerge-repo client at the end of a line of ours: orders come as JSON lines on the
// standard input, each is answered with one JSON line on the standard output.
//
// Nothing here knows the protocol; the client and its network adapter are used as they come. Only
// `told` looks at the line itself, because the client keeps what it is told in `error` frames to
// its own debug log.
//
//   node peer.mjs ws://127.0.0.1:8080/sync?ticket=…

import { createInterface } from "node:readline";
import { clone, getHeads, ImmutableString, splice } from "@automerge/automerge";
import { cbor, Repo } from "@automerge/automerge-repo";
import { WebSocketClientAdapter } from "@automerge/automerge-repo-network-websocket";

const PATIENCE_MS = 20_000;

const errors = [];
const words = [];

/** The stock adapter, and what it keeps to itself. */
class Listening extends WebSocketClientAdapter {
  receiveMessage(bytes) {
    const frame = cbor.decode(new Uint8Array(bytes));
    if (frame.type === "error") errors.push(frame);
    super.receiveMessage(bytes);
  }
}

// A ticket is good once, so the adapter's own way of trying the same address again would only be
// refused: whoever wants to come back makes an adapter with a new ticket.
const NEVER_MS = 1_000_000;
const repo = new Repo({ network: [new Listening(process.argv[2], NEVER_MS)] });

/** A value of ours: texts that are set as a whole, not letter by letter. */
function plain(value) {
  if (typeof value === "string") return new ImmutableString(value);
  if (Array.isArray(value)) return value.map(plain);
  if (value === null || typeof value !== "object") return value;
  const fields = Object.entries(value).filter(([, inner]) => inner !== null);
  return Object.fromEntries(fields.map(([name, inner]) => [name, plain(inner)]));
}

/** The record or map that a path leads to. */
const at = (doc, path) => path.reduce((inner, step) => inner?.[step], doc);

async function until(what, found) {
  const deadline = Date.now() + PATIENCE_MS;
  for (;;) {
    const value = found();
    if (value !== undefined) return value;
    if (Date.now() > deadline) throw new Error(`waited in vain for ${what}`);
    await new Promise((go) => setTimeout(go, 10));
  }
}

const handles = {};

const orders = {
  /** Asks for a document, and waits until it is here or the client says that it is not. */
  async find({ document }) {
    // Without a peer the client says after a second that the document is not available.
    await until("the server", () => repo.peers[0]);
    try {
      const handle = await repo.find(`automerge:${document}`);
      handles[document] = handle;
      handle.on("ephemeral-message", ({ message }) => words.push(message));
      return { found: true };
    } catch (error) {
      return { found: false, says: String(error.message).replaceAll(document, "…") };
    }
  },
  /** Goes on under an actor that is registered. */
  async become({ document, actor }) {
    handles[document].update((doc) => clone(doc, { actor }));
    return {};
  },
  /** The value at a path, once it is there. */
  async read({ document, path }) {
    const found = () => at(handles[document].doc(), path);
    const value = await until(path.join("/"), found);
    return { value: JSON.parse(JSON.stringify(value)) };
  },
  /** The names in a map. */
  async names({ document, path }) {
    return { value: Object.keys(at(handles[document].doc(), path)) };
  },
  /** Sets a value at a path; texts as a whole. */
  async put({ document, path, value }) {
    handles[document].change((doc) => {
      at(doc, path.slice(0, -1))[path.at(-1)] = plain(value);
    });
    return { heads: getHeads(handles[document].doc()) };
  },
  /** Sets a value at a path as the client does by itself: texts letter by letter. */
  async putLoose({ document, path, value }) {
    handles[document].change((doc) => {
      at(doc, path.slice(0, -1))[path.at(-1)] = value;
    });
    return {};
  },
  /** Edits a text letter by letter. */
  async splice({ document, path, value }) {
    handles[document].change((doc) => splice(doc, path, 0, 0, value));
    return {};
  },
  async remove({ document, path }) {
    handles[document].change((doc) => {
      delete at(doc, path.slice(0, -1))[path.at(-1)];
    });
    return {};
  },
  /** What the server said in its next `error` frame. */
  async told() {
    const frame = await until("an error", () => errors.shift());
    return { document: frame.documentId, message: frame.message };
  },
  /** Says something to the others on the document that nobody keeps. */
  async say({ document, message }) {
    handles[document].broadcast(message);
    return {};
  },
  /** What somebody else said so. */
  async hear() {
    return { message: await until("a word", () => words.shift()) };
  },
};

for await (const line of createInterface({ input: process.stdin })) {
  const { order, ...rest } = JSON.parse(line);
  let answer;
  try {
    answer = await orders[order](rest);
  } catch (error) {
    answer = { failed: String(error.stack ?? error) };
  }
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
process.exit(0);
