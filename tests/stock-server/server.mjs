// The stock automerge-repo server as it comes: WebSocket adapter, files for storage, everybody may
// have everything. It prints where it listens.
//
//   node server.mjs FOLDER

import { Repo } from "@automerge/automerge-repo";
import { WebSocketServerAdapter } from "@automerge/automerge-repo-network-websocket";
import { NodeFSStorageAdapter } from "@automerge/automerge-repo-storage-nodefs";
import { WebSocketServer } from "ws";

const sockets = new WebSocketServer({ host: "127.0.0.1", port: 0 });
sockets.on("listening", () => console.log(`127.0.0.1:${sockets.address().port}`));
new Repo({
  // It cuts lines that do not answer for five seconds; a loaded machine is slower than that.
  network: [new WebSocketServerAdapter(sockets, 60_000)],
  storage: new NodeFSStorageAdapter(process.argv[2]),
});
