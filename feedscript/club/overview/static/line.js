// The line to the club's server: what has changed comes down it, and its silence is noticed.

const SILENT_AFTER_MS = 2500;
const LOOK_EVERY_MS = 250;
const OPEN_AGAIN_MS = 700;
const OPENS_WITHIN_MS = 4000;

export class Line {
  // `heard` gets each message; `changed` is called with true (linked) or false (silent).
  constructor(address, heard, changed) {
    [this.address, this.heard, this.changed] = [address, heard, changed];
    this.last = 0;
    this.linked = null;
    this.open();
    setInterval(() => this.look(), LOOK_EVERY_MS);
  }

  open() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}${this.address}`);
    [this.socket, this.opened, this.said] = [socket, performance.now(), false];
    socket.addEventListener("message", (event) => {
      if (socket === this.socket) this.take(event.data);
    });
    socket.addEventListener("close", () => {
      if (socket === this.socket) this.again();
    });
  }

  again() {
    const refused = !this.said;
    this.socket = null;
    setTimeout(() => this.open(), OPEN_AGAIN_MS);
    if (refused) this.mayBeSignedOut();
  }

  // Whoever has been signed out meanwhile is led to where one signs in.
  async mayBeSignedOut() {
    try {
      const page = await fetch(location.href, { redirect: "manual", signal: AbortSignal.timeout(2000) });
      if (page.type === "opaqueredirect") location.assign("/");
    } catch {
      // no server; the socket is tried again
    }
  }

  take(text) {
    [this.last, this.said] = [performance.now(), true];
    this.heard(JSON.parse(text));
    this.look();
  }

  look() {
    const now = performance.now();
    const linked = this.said && now - this.last < SILENT_AFTER_MS;
    if (linked !== this.linked) {
      this.linked = linked;
      this.changed(linked);
    }
    if (!linked && this.socket && now - Math.max(this.last, this.opened) > OPENS_WITHIN_MS) {
      const silent = this.socket;
      this.again();
      silent.close();
    }
  }
}

// A stop goes as a request of its own, whatever the line does. False when it surely did not arrive.
export async function stop(host) {
  try {
    const reply = await fetch("/api/stop", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ host }),
      keepalive: true,
      signal: AbortSignal.timeout(5000),
    });
    return reply.ok;
  } catch {
    return false;
  }
}
