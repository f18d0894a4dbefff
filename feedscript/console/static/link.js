// The line to the laptop: one socket, a sign of life both ways, and silence noticed within a second.

const SILENT_AFTER_MS = 800;
const LOOK_EVERY_MS = 100;
const OPEN_AGAIN_MS = 700;

export class Link {
  // `heard` gets each message; `changed` is called with true (linked) or false (silent).
  constructor(heard, changed) {
    this.heard = heard;
    this.changed = changed;
    this.word = null;
    this.count = 0;
    this.last = 0;
    this.linked = null;
    this.open();
    setInterval(() => this.look(), LOOK_EVERY_MS);
  }

  open() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    this.socket = new WebSocket(`${scheme}://${location.host}/live`);
    this.socket.addEventListener("message", (event) => this.take(event.data));
    this.socket.addEventListener("close", () => {
      this.word = null;
      setTimeout(() => this.open(), OPEN_AGAIN_MS);
    });
  }

  take(text) {
    this.last = performance.now();
    const message = JSON.parse(text);
    if (message.socket) {
      this.word = message.socket;
      this.count = 0;
    }
    this.heard(message);
  }

  look() {
    const linked = this.word !== null && performance.now() - this.last < SILENT_AFTER_MS;
    if (linked !== this.linked) {
      this.linked = linked;
      this.changed(linked);
    }
    if (linked && performance.now() - (this.spoke ?? 0) > 2000) this.send({});
  }

  send(message) {
    if (this.word === null || this.socket.readyState !== WebSocket.OPEN) return false;
    this.count += 1;
    this.spoke = performance.now();
    this.socket.send(JSON.stringify({ socket: this.word, count: this.count, ...message }));
    return true;
  }

  // A stop goes over the socket and, whatever became of that, once more as a request of its own.
  stop(emergency) {
    const act = emergency ? "emergency-stop" : "stop";
    this.send({ command: { do: "act", act } });
    fetch("/stop", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ emergency }),
      keepalive: true,
    }).catch(() => {});
  }
}
