// What the page does beyond htmx: unsaved edits survive, changes on the disk appear, Escape takes back.
"use strict";

const fieldOf = (element) => element.closest && element.closest(".fld");
const inputs = (form) => [...form.querySelectorAll("input.value, input.from")];
const dirty = (input) => input.value !== input.defaultValue;
const told = (form) => inputs(form).map((input) => input.value).join("\n");

function keepUnsaved() {
  htmx.registerExtension("keep-unsaved", {
    // a value that the file changes while somebody types here: the typed text stays, and says so
    htmx_before_morph_attr: (element, detail) => {
      if (detail.attrName !== "value" || !(element instanceof HTMLInputElement) || !fieldOf(element)) return true;
      if (element.type === "hidden") return true;
      const form = fieldOf(element);
      const sent = form.dataset.sent === told(form);
      const unsaved = dirty(element) && !sent && element.value !== detail.newValue;
      element.setAttribute("value", detail.newValue ?? "");
      if (unsaved) form.dataset.both = "yes";
      else element.value = detail.newValue ?? "";
      return false;
    },
  });
}

let homeless = [];

// fields that go away while an edit in them is not written: what was typed is shown, to be taken elsewhere
function keepHomeless(task) {
  for (const form of document.querySelectorAll(".fld")) {
    const unsaved = inputs(form).some(dirty) && form.dataset.sent !== told(form);
    if (!unsaved || task.fragment.querySelector(`[id="${form.id}"]`)) continue;
    homeless.push(`${form.querySelector("input[name=key]").value} = ${inputs(form).map((input) => input.value).filter(Boolean).join("; ")}`);
  }
}

function showHomeless() {
  for (const words of homeless) {
    const line = document.createElement("p");
    line.className = "note bad";
    line.setAttribute("role", "status");
    line.textContent = `Not written, and its place is gone from the file: ${words}`;
    document.getElementById("trial").append(line);
  }
  homeless = [];
}

function marks() {
  for (const form of document.querySelectorAll(".fld")) {
    const message = form.querySelector(".msg");
    if (form.dataset.both) {
      delete form.dataset.both;
      const value = form.querySelector("input.value").defaultValue || "nothing";
      const line = document.createElement("span");
      line.className = "err";
      line.textContent = `The file now says ${value}. Yours is not written: Enter writes it over that, Escape takes the file's.`;
      message.replaceChildren(line);
    }
    const wrong = message.querySelector(".err") !== null;
    form.querySelector("input.value").toggleAttribute("aria-invalid", wrong);
    if (wrong) {
      form.querySelector("input.value").setAttribute("aria-invalid", "true");
      delete form.dataset.sent; // not written, so Enter may send it again
    }
    const changed = inputs(form).some(dirty);
    form.classList.toggle("dirty", changed);
    if (!changed && message.textContent.startsWith("Not written yet")) message.replaceChildren();
  }
  const seen = document.querySelector("#trial [data-version]");
  if (seen) document.body.dataset.version = seen.dataset.version;
}

function renew() {
  const named = new FormData(document.getElementById("where"));
  const query = new URLSearchParams({ rig: named.get("rig"), display: named.get("display") });
  return htmx.ajax("GET", `/renew/${named.get("sheet")}?${query}`, { source: document.body, target: document.body, swap: "none" });
}

function follow() {
  const events = new EventSource("/events");
  events.addEventListener("changed", (event) => {
    if (event.data === document.body.dataset.version) return;
    if ("broken" in document.body.dataset) {
      location.reload();
      return;
    }
    // the answer to an edit made here brings its version along; give it the time to arrive
    setTimeout(() => {
      if (event.data === document.body.dataset.version) return;
      document.body.dataset.version = event.data;
      renew();
    }, 150);
  });
  window.addEventListener("pagehide", () => events.close());
}

function listen() {
  document.addEventListener("htmx:config:request", (event) => {
    const { ctx } = event.detail;
    const tags = [...document.querySelectorAll("[data-tag]")].map((tag) => `${tag.parentElement.id}:${tag.dataset.tag}`);
    ctx.request.headers["X-Page-Has"] = tags.join(" ");
    const form = ctx.sourceElement && fieldOf(ctx.sourceElement);
    if (!form || !ctx.request.body) return;
    ctx.request.body.set("was-value", form.querySelector("input.value").defaultValue);
    ctx.request.body.set("was-note", form.querySelector("input.from").defaultValue);
    const writes = ctx.request.action.endsWith("/write");
    const nothing = inputs(form).every((input) => !dirty(input));
    // what is written already, or as the file has it, need not be looked ahead at, nor written again
    if (form.dataset.sent === told(form) || (writes && nothing)) event.preventDefault();
    if (!writes) return;
    form.dataset.sent = told(form);
    ctx.request.keepalive = true; // so that it arrives though the page is left in the same moment
  });
  document.addEventListener("htmx:before:swap", (event) => {
    const { tasks } = event.detail;
    for (let at = tasks.length - 1; at >= 0; at -= 1) {
      const target = typeof tasks[at].target === "string" ? document.querySelector(tasks[at].target) : tasks[at].target;
      if (target && target.id === "fields") keepHomeless(tasks[at]);
      // words that stand there already are not put there again: a screen reader would say them at every keystroke
      if (target && target.matches(".msg") && target.textContent.trim() === tasks[at].fragment.textContent.trim()) tasks.splice(at, 1);
    }
  });
  document.addEventListener("htmx:after:swap", (event) => {
    marks();
    showHomeless();
    const source = event.detail.ctx && event.detail.ctx.sourceElement;
    const heading = document.querySelector("#trial h3");
    if (source && source.matches(".remedy") && heading) heading.focus();
  });
  document.addEventListener("input", (event) => {
    const form = fieldOf(event.target);
    if (!form) return;
    delete form.dataset.sent;
    form.classList.toggle("dirty", inputs(form).some(dirty));
    form.querySelector("input.from").tabIndex = form.querySelector("input.value").value ? 0 : -1;
  });
  document.addEventListener("keydown", (event) => {
    const form = fieldOf(event.target);
    if (form && event.key === "Enter") {
      event.preventDefault(); // a form of two boxes without a button is not sent by Enter alone
      form.requestSubmit();
    }
    if (event.key !== "Escape" || !form) return;
    for (const input of inputs(form)) input.value = input.defaultValue;
    form.querySelector(".msg").replaceChildren();
    delete form.dataset.sent;
    marks();
    renew();
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-leave]")) document.getElementById("trial").replaceChildren();
  });
  window.addEventListener("beforeunload", (event) => {
    const unsaved = [...document.querySelectorAll(".fld")].some(
      (form) => inputs(form).some(dirty) && (form.dataset.sent !== told(form) || form.querySelector(".err")),
    );
    if (unsaved) event.preventDefault();
  });
}

if (!("broken" in document.body.dataset)) {
  keepUnsaved();
  listen();
}
follow();
