// A first lesson from a question: the answers go to the desk, and its program is opened like any other.
import { _, p_ } from "/static/words.js";
const get = (id) => document.getElementById(id);

const words = (values, labels = {}) => values.map((value) => {
  const option = document.createElement("option");
  option.value = value;
  option.textContent = labels[value] ?? value.replace(/\.toml$/, "").replaceAll("-", " ");
  return option;
});

function box(need) {
  const label = document.createElement("label");
  const check = document.createElement("input");
  check.type = "checkbox";
  check.value = need;
  label.append(check, ` ${need}`);
  return label;
}

async function offer(asked, refusal) {
  const { status, told } = await asked("/first-lesson");
  if (status !== 200) throw new Error(refusal(told));
  const which = get("first-who").value || "club";
  get("first-who").replaceChildren(...words(told.who));
  get("first-who").value = which;
  get("first-theme").replaceChildren(...words(["", ...told.themes], { "": p_("theme", "any") }));
  get("first-launcher").replaceChildren(...words(told.launchers));
  get("first-second").replaceChildren(...words(["", ...told.launchers], { "": p_("launcher", "no other") }));
  get("first-has").append(...told.needs.map(box));
  for (const [id, least, most] of [["players", 1, told.most_players], ["minutes", ...told.minutes], ["balls", ...told.balls]]) {
    Object.assign(get(`first-${id}`), { min: least, max: most });
  }
}

const answers = () => ({
  players: get("first-players").valueAsNumber,
  names: get("first-names").value.split(/[,\n]/),
  who: get("first-who").value,
  theme: get("first-theme").value,
  minutes: get("first-minutes").valueAsNumber,
  balls: get("first-balls").valueAsNumber,
  launchers: [get("first-launcher").value, get("first-second").value].filter(Boolean),
  has: [...get("first-has").querySelectorAll("input:checked")].map((check) => check.value),
});

/** `asked` speaks with the desk, `begin` saves and opens a program, `refusal` words a refusal. */
export function startFromAQuestion({ asked, begin, refusal, opened }) {
  let offering = false;
  get("first").addEventListener("toggle", async () => {
    if (!get("first").open || offering || get("first-who").options.length) return;
    offering = get("first-make").disabled = true; // what there is to choose from is not there yet
    get("first-trouble").textContent = "";
    get("first-progress").textContent = "…";
    try {
      await offer(asked, refusal);
    } catch (failed) {
      get("first-trouble").textContent = failed instanceof TypeError ? _("The desk does not answer.") : failed.message;
    } finally {
      offering = get("first-make").disabled = false;
      get("first-progress").textContent = "";
    }
  });
  get("first-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    if (get("first-make").disabled) return;
    get("first-make").disabled = true;
    get("first-trouble").textContent = "";
    get("first-progress").textContent = _("Looking for exercises that suit and pass the check. This may take some seconds…");
    try {
      const { status, told } = await asked("/first-lesson", { method: "POST", body: JSON.stringify(answers()) });
      const trouble = status === 200 && told.words ? await begin(get("new-name").value || _("first lesson"), told.words) : refusal(told);
      get("first-trouble").textContent = trouble;
      if (!trouble) opened(told.notes);
    } catch {
      get("first-trouble").textContent = _("The desk does not answer.");
    } finally {
      get("first-make").disabled = false;
      get("first-progress").textContent = "";
    }
  });
}
