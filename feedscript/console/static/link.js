// The line to the laptop: one socket, a sign of life both ways, and silence noticed within a second.

import { headers, keyed } from "./page_key.js";

const SILENT_AFTER_MS = 800;
const LOOK_EVERY_MS = 100;
const OPEN_AGAIN_MS = 700;
// A socket that neither opens nor fails in this time is given up: the network is gone.
const OPENS_WITHIN_MS = 3000;
// A line that still speaks so long after a stop was sent has carried it; longer than silence is noticed.
const CARRIED_AFTER_MS = 1000;
// A stop that was not received is sent again this often while the laptop is heard.
const STOP_AGAIN_MS = 1000;

export class Link {
  // `heard` gets each message; `changed` is called with true (linked) or false (silent), and when
  // `unreceived` changes.
  constructor(heard, changed) {
    this.heard = heard;
    this.changed = changed;
    this.word = null;
    this.count = 0;
    this.last = 0;
    this.linked = null;
    this.owed = null; // a stop that nobody has received yet, and whether it is to take the power off
    this.unreceived = false; // whether it was tried in vain
    this.trying = 0; // stops that are on their way
    this.tried = 0; // and when one was last
    this.open();
    setInterval(() => this.look(), LOOK_EVERY_MS);
  }

  open() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(keyed(`${scheme}://${location.host}/live`));
    this.socket = socket;
    this.opened = performance.now();
    socket.addEventListener("message", (event) => {
      if (socket === this.socket) this.take(event.data);
    });
    socket.addEventListener("close", () => {
      if (socket === this.socket) this.again();
    });
  }

  again() {
    const wasHeard = this.word !== null;
    this.word = null;
    this.socket = null;
    if (!wasHeard) this.mayBeUnpaired();
    setTimeout(() => this.open(), OPEN_AGAIN_MS);
  }

  // A laptop that was started anew knows this device no more: then the pairing page is shown. After a
  // lesson there may be the page that chooses the next.
  async mayBeUnpaired() {
    try {
      const page = await fetch("/", { headers: headers(), signal: AbortSignal.timeout(2000) });
      const html = await page.text();
      if (html.includes('id="choose"')) location.reload();
      if (html.includes('id="pair"')) location.replace(keyed("/"));
    } catch {
      // no laptop; the socket is tried again
    }
  }

  take(text) {
    this.last = performance.now();
    const message = JSON.parse(text);
    if (message.socket) {
      this.word = message.socket;
      this.count = 0;
    }
    this.heard(message);
    this.look();
  }

  look() {
    const now = performance.now();
    const linked = this.word !== null && now - this.last < SILENT_AFTER_MS;
    if (linked !== this.linked) {
      this.linked = linked;
      this.changed(linked);
    }
    if (linked && this.unreceived && !this.trying && now - this.tried > STOP_AGAIN_MS) this.stop(this.owed);
    if (linked && now - (this.spoke ?? 0) > 2000) this.send({});
    // A socket that has gone silent is not waited for: after a lost network it may never close.
    const since = Math.max(this.last, this.opened ?? 0);
    if (!linked && this.socket && now - since > OPENS_WITHIN_MS) {
      const silent = this.socket;
      this.again();
      silent.close();
    }
  }

  send(message) {
    if (this.word === null || this.socket?.readyState !== WebSocket.OPEN) return false;
    this.count += 1;
    this.spoke = performance.now();
    this.socket.send(JSON.stringify({ socket: this.word, count: this.count, ...message }));
    return true;
  }

  // A stop goes over the socket and, whatever became of that, once more as a request of its own. It is
  // owed until it was received: sent again as soon and as long as the laptop is heard.
  async stop(emergency) {
    this.owed = this.owed || emergency;
    this.trying += 1;
    const received = await this.sendStop(emergency);
    this.trying -= 1;
    this.tried = performance.now();
    if (received && (emergency || !this.owed)) this.owed = null; // a stop takes no power off
    const unreceived = this.owed !== null && (this.unreceived || !received);
    if (unreceived === this.unreceived) return;
    this.unreceived = unreceived;
    this.changed(this.linked);
  }

  async sendStop(emergency) {
    const act = emergency ? "emergency-stop" : "stop";
    const { socket } = this;
    const sent = this.send({ command: { do: "act", act } });
    try {
      const reply = await fetch("/stop", {
        method: "POST",
        headers: headers(),
        body: JSON.stringify({ emergency }),
        keepalive: true,
        signal: AbortSignal.timeout(3000),
      });
      if (reply.ok || reply.status === 409) return true;
    } catch {
      // the socket may have carried it
    }
    if (!sent) return false;
    // What was sent just before the line went silent is lost with it.
    await new Promise((done) => { setTimeout(done, CARRIED_AFTER_MS); });
    return socket === this.socket && performance.now() - this.last < SILENT_AFTER_MS;
  }
}
