// Under the lines: add a material, differences, steps, drafts, note, record.

function buildAdding(view) {
  view.addPhase = h("select", { "aria-label": "Phase of the new line" });
  const search = searchBox(view, {
    label: "Add a material",
    pick: (found) => view.edit({
      do: "move", move: { kind: "add", material: found.name, key: found.key || null, phase: view.addPhase.value, percent: "0" },
    }),
  });
  return h("div", { class: "lk-add" }, icon("plus"), search, h("span", { class: "lk-small-word", text: "to phase" }), view.addPhase);
}

function buildFooter(view) {
  view.marksSelect = h("select", { "aria-label": "Trial whose values are marked",
    on: { change: () => view.edit({ do: "marks", trial: view.marksSelect.value }) } });
  view.marksField = field("marked", view.marksSelect);
  view.differsTable = h("table", { class: "lk-table" });
  view.differsWord = h("summary");
  view.differs = h("details", { class: "lk-drawer lk-differs" }, view.differsWord, view.differsTable);
  view.stepsWord = h("summary");
  view.stepsList = h("ol", { class: "lk-steplist" });
  view.stepsDrawer = h("details", { class: "lk-drawer" }, view.stepsWord, view.stepsList);
  view.draft = h("div", { class: "lk-draft", role: "note" });
  view.draft.hidden = true;
  return h("footer", { class: "lk-foot" }, h("div", { class: "lk-drawers" }, view.differs, view.stepsDrawer, view.marksField), recordPart(view));
}

function recordPart(view) {
  view.note = h("textarea", { class: "lk-note", rows: "2", "aria-label": "Note for the trial", placeholder: "what was tried, and why" });
  view.label = h("input", { type: "text", class: "lk-label", "aria-label": "Label of the trial", placeholder: "next label", maxlength: "60" });
  view.record = h("button", { class: "lk-record", text: "Record as trial", on: { click: () => recordTrial(view) } });
  view.recorded = h("span", { class: "lk-recorded", role: "status" });
  view.trouble = h("p", { class: "lk-trouble", role: "status" });
  const keep = debounce(() => view.edit({ do: "note", note: view.note.value }), 500);
  view.note.addEventListener("input", keep);
  return h("div", { class: "lk-recording" }, view.note, h("div", { class: "lk-record-line" }, view.label, view.record, view.recorded), view.trouble);
}

function recordTrial(view) {
  settleKeys(view);
  view.edit({ do: "record", note: view.note.value, label: view.label.value });
}

function dressFooter(view) {
  const s = view.state;
  fillSelect(view.addPhase, s.phases.map((p) => [p.key, p.key]), view.addPhase.value || (s.phases.at(-1) || {}).key);
  const trials = s.trials || [];
  view.marksField.hidden = trials.length < 2;
  fillSelect(view.marksSelect, trials.map((t) => [t.id, t.label]), s.marked || "");
  dressDifferences(view, s);
  setText(view.stepsWord, `Steps (${s.first_step + s.steps.length - 1})`);
  view.stepsList.replaceChildren(...s.steps.map((words, k) => stepItem(view, words, k + s.first_step)));
  if (document.activeElement !== view.note && view.note.value !== s.note) view.note.value = s.note;
  setAttr(view.label, "placeholder", s.next_label || "label");
  if (s.recorded && view.shownRecord !== s.recorded) view.label.value = "";
  view.shownRecord = s.recorded;
  setText(view.recorded, s.recorded ? `recorded as ${s.recorded}` : s.can_record ? "" : "no bench: tune(…, bench=…) records");
  setText(view.trouble, s.trouble || "");
  view.record.disabled = !s.can_record || view.link.state === "lost";
  dressDrafts(view, s.drafts || []);
}

function dressDifferences(view, s) {
  setText(view.differsWord, `Differs from ${s.marks} (${s.differences.length})`);
  const row = (d) => h("tr", {}, h("td", { text: d.phase }), h("th", { scope: "row", text: d.material }),
    h("td", { class: "lk-num", text: d.before }), h("td", { class: "lk-num", text: d.after }), h("td", { class: "lk-num", text: d.change }));
  const head = h("tr", {}, ...["", "Material", `${s.marks} %`, "now %", "change"].map((t) => h("th", { scope: "col", text: t })));
  view.differsTable.replaceChildren(h("thead", {}, head), h("tbody", {}, ...s.differences.map(row)));
}

function stepItem(view, words, to) {
  const here = to === view.state.at;
  return h("li", {}, h("button", {
    class: "lk-word", text: words, "aria-current": here ? "step" : null,
    on: { click: () => view.edit({ do: "goto", to }) },
  }));
}

function fillSelect(select, options, value) {
  const key = JSON.stringify(options);
  if (select.dataset.key !== key) {
    select.replaceChildren(...options.map(([v, text]) => h("option", { value: v, text })));
    select.dataset.key = key;
  }
  if (document.activeElement !== select) select.value = value;
}

function dressDrafts(view, drafts) {
  view.draft.hidden = !drafts.length;
  if (!drafts.length) return;
  const draft = drafts[0];
  view.draft.replaceChildren(
    h("span", {}, h("b", { text: "A draft was not recorded: " }), draft.offer),
    h("button", { class: "lk-word", text: "Take it up", on: { click: () => view.edit({ do: "draft", key: draft.key, take: true }) } }),
    h("button", { class: "lk-word", text: "Throw it away", on: { click: () => view.edit({ do: "draft", key: draft.key, take: false }) } }));
}
