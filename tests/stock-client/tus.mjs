// The stock tus client sends one file to a server of ours, and says what happened as JSON lines on
// the standard output. Nothing here knows the protocol.
//
//   node tus.mjs '{ "endpoint": …, "file": …, "token": …, "metadata": {…}, "chunk": bytes or null,
//                   "retries": [ms, …], "known": an upload's address or null }'

import { readFileSync } from "node:fs";
import * as tus from "tus-js-client";

const wish = JSON.parse(process.argv[2]);
const say = (word) => console.log(JSON.stringify(word));

const upload = new tus.Upload(readFileSync(wish.file), {
  endpoint: wish.endpoint,
  uploadUrl: wish.known,
  chunkSize: wish.chunk ?? Infinity,
  retryDelays: wish.retries,
  headers: { Authorization: `Bearer ${wish.token}` },
  metadata: wish.metadata,
  onUploadUrlAvailable: () => say({ at: upload.url }),
  onChunkComplete: (_size, accepted) => say({ accepted }),
  onError: (error) => say({ failed: String(error), status: error.originalResponse?.getStatus() ?? null }),
  onSuccess: () => say({ done: upload.url }),
});
upload.start();
