// The words: CodeMirror, with the language's own server behind it.
import {
  Compartment, Decoration, EditorSelection, EditorState, EditorView, LSPClient, LSPPlugin, RangeSetBuilder,
  StateEffect, StateField, ViewPlugin, autocompletion, bracketMatching, closeBrackets, closeBracketsKeymap,
  codeFolding, completionKeymap, defaultKeymap, drawSelection, findReferencesKeymap, foldGutter,
  foldKeymap, foldService, formatDocument, formatKeymap, highlightActiveLine,
  highlightActiveLineGutter, highlightSelectionMatches, highlightSpecialChars, history, historyKeymap,
  hoverTooltips, indentUnit, indentWithTab, jumpToDefinitionKeymap, keymap, lineNumbers, lintKeymap,
  renameKeymap, searchKeymap, serverCompletion, setDiagnostics, unifiedMergeView,
} from "./words.js";

import { letGo } from "./pressed.js";
import { atRest, givenUp } from "./rest.js";
import { keyed } from "/static/page_key.js";
import { _ } from "/static/words.js";

const LANGUAGE = "feedscript";
// A search for a fix is many whole checks, and a slow machine may take its time; an answer that is
// lost with its line is known at once.
const ANSWERED_WITHIN_MS = 60000;
const nonce = EditorView.cspNonce.of(document.querySelector("meta[name=style-nonce]").content);

// --- colours: what the parser took each word for

const colours = StateEffect.define();
const coloured = StateField.define({
  create: () => Decoration.none,
  update(marks, change) {
    let now = marks.map(change.changes);
    for (const effect of change.effects) if (effect.is(colours)) now = effect.value;
    return now;
  },
  provide: (field) => EditorView.decorations.from(field),
});

function decorated(document, legend, data) {
  const built = new RangeSetBuilder();
  let line = 0, column = 0;
  for (let at = 0; at < data.length; at += 5) {
    line += data[at];
    column = data[at] ? data[at + 1] : column + data[at + 1];
    if (line >= document.lines) break;
    const from = document.line(line + 1).from + column;
    const to = from + data[at + 2];
    if (to > document.length) break;
    built.add(from, to, Decoration.mark({ class: `w-${legend[data[at + 3]]}` }));
  }
  return built.finish();
}

// --- the feed that is chosen in the picture

const chosen = StateEffect.define();
const chosenWords = StateField.define({
  create: () => Decoration.none,
  update(marks, change) {
    let now = marks.map(change.changes);
    for (const effect of change.effects) {
      if (!effect.is(chosen)) continue;
      const words = effect.value;
      now = words && words.end > words.start
        ? Decoration.set([Decoration.mark({ class: "w-chosen" }).range(words.start, words.end)])
        : Decoration.none;
    }
    return now;
  },
  provide: (field) => EditorView.decorations.from(field),
});

// --- folding: a block from its brace to the matching one

const folding = foldService.of((state, start, end) => {
  const text = state.doc.sliceString(start, end);
  if (!/\{\s*(#.*)?$/.test(text)) return null;
  const open = start + text.lastIndexOf("{");
  let depth = 0;
  const all = state.doc.sliceString(open, Math.min(state.doc.length, open + 100000));
  for (const token of all.matchAll(/"(?:[^"\\\n]|\\.)*"|#[^\n]*|[{}]/g)) {
    if (token[0] === "{") depth += 1;
    else if (token[0] === "}" && (depth -= 1) === 0) {
      const close = open + token.index;
      return close > end ? { from: open + 1, to: close } : null;
    }
  }
  return null;
});

const SEVERITIES = [, "error", "warning", "info", "hint"];

// A socket that the client's messages go through; it is opened again when it was lost.
function transport(url, lost) {
  const handlers = new Set();
  const waiting = [];
  const socket = new WebSocket(url);
  socket.addEventListener("open", () => waiting.splice(0).forEach((one) => socket.send(one)));
  socket.addEventListener("message", (event) => handlers.forEach((one) => one(event.data)));
  socket.addEventListener("close", () => lost());
  return {
    send: (message) => {
      if (socket.readyState === WebSocket.OPEN) socket.send(message);
      else if (socket.readyState === WebSocket.CONNECTING) waiting.push(message);
    },
    subscribe: (handler) => handlers.add(handler),
    unsubscribe: (handler) => handlers.delete(handler),
    close: () => { lost = () => {}; socket.close(); },
  };
}

// Nothing that a program says may become markup: what a hover shows is rebuilt from a short list.
const HARMLESS = new Set(["P", "EM", "STRONG", "CODE", "PRE", "UL", "OL", "LI", "BR", "TABLE", "THEAD", "TBODY", "TR", "TH", "TD"]);
function harmless(html) {
  const parsed = new DOMParser().parseFromString(html, "text/html");
  for (const element of [...parsed.body.querySelectorAll("*")].reverse()) {
    if (!HARMLESS.has(element.tagName)) element.replaceWith(...element.childNodes);
    else for (const attribute of [...element.attributes]) element.removeAttribute(attribute.name);
  }
  return parsed.body.innerHTML;
}

const readOnly = new Compartment();

// The editor of one program. `on` has changed(what takes the words of what was seen along), seen(what, whether of the words as they stand), found(diagnostics), cursor(offset)
// and connection(up).
export function openEditor(parent, { name, uri, words, fixed }, on) {
  let view, client, link, retry = 0, ended = false;
  let legend = [];

  async function colour() {
    const document = view.state.doc;
    const asked = client.request("textDocument/semanticTokens/full", { textDocument: { uri } });
    const told = await asked.catch(() => null); // words that take too long stay plain
    if (told && view.state.doc === document) {
      view.dispatch({ effects: colours.of(decorated(document, legend, told.data)) });
    }
  }

  // Feeds that stay as they are come as their numbers in the picture before.
  let shown = [];
  function whole({ seen, feeds, places }) {
    seen.feeds = feeds.map((one, at) => {
      const [words, land_words] = places[at];
      return { ...(typeof one === "number" ? shown[one] : { ...one, said: JSON.stringify(one) }), words, land_words };
    });
    if (seen.court) shown = seen.feeds;
    return seen;
  }

  // Changes of the words, each with the version that was told before it: what is seen of older
  // words is where those have come to.
  let since = [];
  function brought(seen, version) {
    since = since.filter(([told]) => told >= version);
    for (const [, changes] of since) carry(seen, changes);
    return seen;
  }
  function carry(seen, changes) {
    const to = (words) => words && { start: changes.mapPos(words.start, -1), end: changes.mapPos(words.end, 1) };
    for (const one of [...seen.feeds, ...seen.launchers, ...seen.targets, ...seen.keep_outs]) {
      one.words = to(one.words);
      if (one.land_words) one.land_words = to(one.land_words);
    }
  }

  const published = {
    clientCapabilities: { textDocument: { publishDiagnostics: { versionSupport: true } } },
    notificationHandlers: {
      "textDocument/publishDiagnostics": (_, told) => {
        const plugin = LSPPlugin.get(view);
        if (!plugin || told.uri !== uri) return false;
        // What was said of words before these may lie past their end.
        const last = plugin.syncedDoc;
        const place = (at) => plugin.unsyncedChanges.mapPos(
          at.line < last.lines ? Math.min(plugin.fromPosition(at, last), last.length) : last.length);
        const found = told.diagnostics.map((one) => ({
          from: place(one.range.start),
          to: place(one.range.end),
          severity: SEVERITIES[one.severity ?? 1],
          message: one.message,
          range: one.range,
          slug: one.code,
        }));
        view.dispatch(setDiagnostics(view.state, found));
        letGo().then(() => ended || on.found(found));
        return true;
      },
      "feedscript/seen": (_, told) => {
        const all = whole(told);
        letGo().then(() => {
          if (ended) return;
          const current = told.version === versionNow();
          if (current) atRest("colours", colour);
          on.seen(brought(all, told.version), current);
        });
        return true;
      },
    },
  };

  // Of the words as they stand here; none while some have not been sent.
  function versionNow() {
    const plugin = LSPPlugin.get(view);
    return plugin?.unsyncedChanges.empty ? client.workspace.getFile(uri)?.version : null;
  }

  function connect() {
    since = []; // versions are counted anew
    client = new LSPClient({ extensions: [published], sanitizeHTML: harmless, timeout: ANSWERED_WITHIN_MS });
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    link = transport(keyed(`${scheme}://${location.host}/words/${encodeURIComponent(name).replaceAll("%2F", "/")}`), () => {
      if (ended) return;
      on.connection(false);
      client.disconnect();
      setTimeout(reconnect, Math.min(5000, 250 * 2 ** retry++));
    });
    client.connect(link);
    const own = link; // by then there may be another one, which this client has not greeted
    client.initializing.then(() => {
      // At once: by itself the client waits a turn, which comes only after the page has drawn the change.
      client.notification = (method, params) => own.send(JSON.stringify({ jsonrpc: "2.0", method, params }));
      retry = 0;
      on.connection(true);
      legend = client.serverCapabilities.semanticTokensProvider?.legend.tokenTypes ?? [];
      colour();
    });
  }

  const served = new Compartment();
  function service() {
    return [client.plugin(uri, LANGUAGE), serverCompletion(), hoverTooltips({ hoverTime: 350 })];
  }
  function reconnect() {
    if (ended) return;
    connect();
    view.dispatch({ effects: served.reconfigure([]) });
    view.dispatch({ effects: served.reconfigure(service()) });
  }

  // Changed words are sent before they are drawn, so that the desk works while the page does.
  const sends = ViewPlugin.define(() => ({
    update: ({ docChanged, changes }) => {
      if (!docChanged) return;
      since.push([client.workspace.getFile(uri)?.version ?? 0, changes]);
      client.sync();
    },
  }));
  const follows = EditorView.updateListener.of((update) => {
    if (update.docChanged) {
      on.changed((seen) => carry(seen, update.changes));
      givenUp("colours");
    }
    if (update.selectionSet || update.docChanged) on.cursor(update.state.selection.main.head);
  });

  connect();
  view = new EditorView({
    parent,
    state: EditorState.create({
      doc: words,
      extensions: [
        nonce, served.of(service()), readOnly.of(EditorState.readOnly.of(fixed)),
        lineNumbers(), highlightActiveLineGutter(), highlightSpecialChars(), history(), codeFolding(),
        foldGutter(), folding, drawSelection(), indentUnit.of("    "), bracketMatching(),
        closeBrackets(), autocompletion(), highlightActiveLine(), highlightSelectionMatches(),
        EditorView.lineWrapping, coloured, chosenWords, sends, follows,
        EditorView.contentAttributes.of({ "aria-label": `Words of ${name}`, tabindex: "0" }),
        keymap.of([
          ...closeBracketsKeymap, ...defaultKeymap, ...searchKeymap, ...historyKeymap, ...foldKeymap,
          ...completionKeymap, ...lintKeymap, ...formatKeymap, ...renameKeymap,
          ...jumpToDefinitionKeymap, ...findReferencesKeymap, indentWithTab,
        ]),
      ],
    }),
  });

  return {
    view,
    text: () => view.state.doc.toString(),
    tidy: () => { client.sync(); return formatDocument(view); },
    choose: (words) => view.dispatch({ effects: chosen.of(words) }),
    show: ({ start, end }) => {
      view.dispatch({
        selection: EditorSelection.range(start, end),
        effects: EditorView.scrollIntoView(start, { y: "center" }),
      });
      view.focus();
    },
    // Marks words and brings them into sight; the keys stay where they are.
    point: (words) => view.dispatch({
      effects: [chosen.of(words), EditorView.scrollIntoView(words.start, { y: "center" })],
    }),
    // One change of the words, as one step of undo.
    change: (edits) => view.dispatch({
      changes: edits.map(({ start, end, words: insert }) => ({ from: start, to: end, insert })),
      userEvent: "input",
    }),
    replace: (text) => view.dispatch({ changes: { from: 0, to: view.state.doc.length, insert: text } }),
    ask: (method, params) => { client.sync(); return client.request(method, { textDocument: { uri }, ...params }); },
    fixes: async (found) => {
      client.sync();
      const told = await client.request("textDocument/codeAction", {
        textDocument: { uri }, range: found.range, context: { diagnostics: [] },
      });
      return told ?? [];
    },
    apply: (action) => {
      const at = ({ line, character }) => view.state.doc.line(line + 1).from + character;
      view.dispatch({
        changes: action.edit.documentChanges.flatMap((one) => one.edits).map((one) => (
          { from: at(one.range.start), to: at(one.range.end), insert: one.newText })),
        userEvent: "input",
      });
    },
    close: () => { ended = true; givenUp("colours"); link.close(); view.destroy(); },
  };
}

// For one place that differs: by a click, a finger or a key.
function keepOrTake(kind, act) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = kind === "accept" ? _("Keep mine") : _("Take theirs");
  button.addEventListener("click", act);
  return button;
}

// Two versions of the same words, differences marked, each to be taken or left; or only to be looked at.
export function openMerge(parent, mine, theirs, fixed = false) {
  return new EditorView({
    parent,
    state: EditorState.create({
      doc: mine,
      extensions: [nonce, lineNumbers(), EditorView.lineWrapping,
        unifiedMergeView({
          original: theirs, mergeControls: fixed ? false : keepOrTake, ...(fixed ? { collapseUnchanged: { margin: 3, minSize: 6 } } : {}),
        }), EditorState.readOnly.of(fixed),
        EditorView.contentAttributes.of({ "aria-label": "Both versions" })],
    }),
  });
}
