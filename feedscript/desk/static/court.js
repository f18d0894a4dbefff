// From the desk to the court: where the launchers are, how the lesson stands that was begun from here, and
// its page. Nothing is armed here: every step of setting up and every stop is on the lesson's own page.
import { address, bareName } from "./names.js";
import { keyed } from "/static/page_key.js";
import { _, listed, moment, n_ } from "/static/words.js";
const get = (id) => document.getElementById(id);
const LOOK_MS = 3000;
const LOOK_SOON_MS = 500;
const SIMULATED = "sim:";
const RECENT = "feedscript.desk.launchers";
const CLOSED = "feedscript.desk.closed";
const MOST_RECENT = 5;

function made(kind, words = "", with_ = {}) {
  const one = document.createElement(kind);
  one.textContent = words;
  return Object.assign(one, with_);
}

const recent = () => {
  try {
    const kept = JSON.parse(localStorage.getItem(RECENT) ?? "[]");
    return Array.isArray(kept) ? kept.filter((one) => typeof one === "string") : [];
  } catch {
    return [];
  }
};

// Where one launcher is: what was found, what was typed before, or another address.
function addressOf(name, number, found) {
  const box = made("div");
  const label = made("label", name ? _("Launcher {name}", { name }) : _("Launcher"));
  const select = made("select");
  const typed = made("label", _("Its address: {ways}", { ways: "serial:DEVICE, tcp:HOST:PORT, ble:NAME" }));
  const input = made("input", "", { maxLength: 300, autocomplete: "off", spellcheck: false, id: `address-${number}` });
  const known = new Map([[SIMULATED, _("simulated: no ball flies")]]);
  for (const { address, what } of found) known.set(address, what);
  for (const address of recent()) if (!known.has(address)) known.set(address, _("as last time"));
  for (const [address, what] of known) select.append(made("option", `${address} (${what})`, { value: address }));
  select.append(made("option", _("another address …"), { value: "" }));
  const show = () => { typed.hidden = select.value !== ""; input.required = !typed.hidden; };
  select.addEventListener("change", () => { show(); if (!typed.hidden) input.focus(); });
  label.append(select);
  typed.append(input);
  box.append(label, typed);
  show();
  return { box, address: () => select.value || input.value.trim() };
}

function remember(addresses) {
  const kept = [...new Set([...addresses.filter((one) => one !== SIMULATED), ...recent()])];
  localStorage.setItem(RECENT, JSON.stringify(kept.slice(0, MOST_RECENT)));
}

/** `asked` speaks with the desk, `refusal` words a refusal, `saved` saves the words and gives the open program's
 * name and version, `offer` adds to a lesson that was held what it suggests. */
export function openCourt({ asked, refusal, saved, offer }) {
  let standing = { state: "none" }, addresses = [], looks = 0, shown = "";

  const post = async (what, body = {}) => {
    try {
      return await asked(`/court/${what}`, { method: "POST", body: JSON.stringify(body) });
    } catch {
      return { status: 0, told: {} };
    }
  };

  // --- how it stands

  async function look() {
    clearTimeout(looks);
    try {
      const { status, told } = await asked("/court");
      if (status === 200) standing = told;
    } catch {
      if (standing.state === "running" || standing.state === "starting") standing = { ...standing, state: "unheard" };
    }
    show();
    looks = setTimeout(look, standing.state === "starting" ? LOOK_SOON_MS : LOOK_MS);
  }

  const words = () => {
    const { state, program, launchers, told } = standing;
    if (state === "starting") return _("“{program}” looks for its launcher ({launchers}) …", { program, launchers: listed(launchers) });
    if (state === "running") return _("“{program}” is on court ({launchers}). It is set up, run and stopped on its page. When the desk ends, the lesson is stopped.", { program, launchers: listed(launchers) });
    if (state === "unheard") return _("The desk is not heard. If it was ended, the lesson that it began has been stopped: look at its page, and at the launcher.");
    return state === "over" ? told : "";
  };

  function show() {
    const over = standing.state === "over";
    const closed = over && !standing.not_stopped.length && localStorage.getItem(CLOSED) === standing.told;
    const now = JSON.stringify(standing) + closed;
    if (now === shown) return; // what is not new is not read out again, and keeps its focus
    shown = now;
    get("standing").hidden = standing.state === "none" || closed;
    get("standing-words").textContent = words();
    const buttons = [];
    const button = (said, act, kind = "") => {
      const one = made("button", said, { className: kind, type: "button" });
      one.addEventListener("click", act);
      buttons.push(one);
    };
    if (standing.state === "starting") button(_("Give up"), () => post("give-up").then(look));
    if (standing.state === "running") button(_("Open its page"), openPage, "main");
    if (over && standing.lesson) {
      buttons.push(made("a", _("Its review"), { href: keyed(`/reviews/${standing.lesson}`), target: "_blank", rel: "noopener" }));
    }
    if (over && standing.not_stopped.length) {
      button(_("I have seen that {launchers} stands still", { launchers: listed(standing.not_stopped) }), () => post("stands-still").then(look), "main");
    } else if (over) {
      button(_("Close"), () => { localStorage.setItem(CLOSED, standing.told); show(); get("to-court").focus(); });
    }
    get("standing-do").replaceChildren(...buttons);
  }

  async function openPage() {
    const tab = window.open("", "_blank"); // now: after a wait it would be held for an advertisement
    const { status, told } = await post("page");
    if (status !== 200) {
      tab?.close();
      get("standing-words").textContent = refusal(told);
    } else if (tab) {
      tab.location = told.link;
    } else {
      get("standing-do").append(made("a", _("Its page"), { href: told.link, target: "_blank", rel: "noopener" }));
    }
  }

  // --- where to

  // --- what was held

  const trouble = (failed) => {
    get("court-trouble").textContent = failed instanceof TypeError ? _("The desk does not answer.") : failed.message;
  };

  async function listHeld() {
    const { name } = await saved();
    const { status, told } = await asked(`/lessons/${address(name)}`);
    if (status !== 200) throw new Error(refusal(told));
    get("held").replaceChildren(...told.map((one) => {
      const item = made("li");
      const when = moment(new Date(one.begun));
      const said = [one.rehearsal ? _("simulated") : "", one.ending, n_("{n} ball", "{n} balls", one.balls_left)].filter(Boolean).join(", ");
      item.append(made("a", _("Review of {when}", { when }), { href: keyed(`/reviews/${one.number}`), target: "_blank", rel: "noopener" }), made("small", said));
      if (one.goes_on) {
        const again = made("button", _("Go on with it"), { type: "button", title: _("At the launcher chosen above, where it was broken off"), disabled: get("court-go").disabled });
        again.addEventListener("click", () => begin(one.number));
        item.append(again);
      }
      offer(one.number, item);
      return item;
    }));
    get("held-head").hidden = !told.length;
  }

  async function ask() {
    get("court-trouble").textContent = "";
    get("court-go").disabled = true;
    get("court-launchers").replaceChildren();
    addresses = [];
    get("on-court").showModal();
    try {
      const { name } = await saved();
      get("court-name").textContent = bareName(name);
      const { status, told } = await asked(`/court/launchers/${address(name)}`);
      if (status !== 200) throw new Error(refusal(told));
      addresses = told.wanted.map((one, number) => addressOf(one, number, told.found));
      get("court-launchers").replaceChildren(...addresses.map((one) => one.box));
      get("court-go").disabled = false;
    } catch (failed) {
      trouble(failed);
    }
    await listHeld().catch(trouble);
  }

  // The program, or one of its lessons that was broken off.
  async function begin(lesson = null) {
    if (get("court-go").disabled || !get("court-form").reportValidity()) return;
    get("court-go").disabled = true;
    get("court-trouble").textContent = "";
    const launchers = addresses.map((one) => one.address());
    try {
      const { name, version } = await saved();
      const { status, told } = await post("begin", { program: name, version, launchers, court_network: get("court-phone").checked, lesson });
      if (status !== 200) throw new Error(refusal(told));
      remember(launchers);
      get("on-court").close();
    } catch (failed) {
      trouble(failed);
    } finally {
      get("court-go").disabled = false;
    }
    look();
  }

  get("court-form").addEventListener("submit", (event) => { event.preventDefault(); begin(); });
  get("to-court").addEventListener("click", ask);
  look();
}
