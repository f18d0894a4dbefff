// Search runs in a worker, and no browser starts one for a page that was opened as a file. Such a
// page is given the worker's script in a hidden frame, which passes messages on as a worker does.
if (location.protocol === "file:") {
  window.Worker = class extends EventTarget {
    constructor(script) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.body.append(frame);
      this.inner = frame.contentWindow;
      this.waiting = [];
      this.inner.postMessage = (data) => this.tell(data);
      const running = frame.contentDocument.createElement("script");
      running.src = new URL(script, location.href).href;
      running.onload = () => {
        const waiting = this.waiting;
        this.waiting = null;
        for (const data of waiting) this.postMessage(data);
      };
      frame.contentDocument.head.append(running);
    }

    postMessage(data) {
      if (this.waiting) this.waiting.push(data);
      else this.inner.dispatchEvent(new MessageEvent("message", { data }));
    }

    tell(data) {
      const event = new MessageEvent("message", { data });
      this.dispatchEvent(event);
      if (this.onmessage) this.onmessage(event);
    }
  };
}
