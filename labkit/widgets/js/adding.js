// Search for a material and take it: used to add a line and to replace one.

let searchCount = 0;

function searchBox(view, { label, pick }) {
  searchCount += 1;
  const listId = `lk-found-${view.link.client}-${searchCount}`;
  const box = { pick, results: [], at: -1, token: 0 };
  box.input = h("input", {
    type: "text", class: "lk-search", role: "combobox", "aria-label": label, "aria-expanded": "false",
    "aria-controls": listId, "aria-autocomplete": "list", autocomplete: "off", spellcheck: "false", placeholder: "name or INCI",
  });
  box.list = h("div", { id: listId, class: "lk-found", role: "listbox", "aria-label": "Materials found", hidden: true });
  const search = debounce(() => {
    box.token += 1;
    view.searching = box;
    ask(view.link, { do: "find", text: box.input.value, token: box.token });
  }, 90);
  box.input.addEventListener("input", () => { if (box.input.value.trim()) search(); else showFound(view, box, []); });
  box.input.addEventListener("keydown", (event) => searchKey(view, box, event));
  box.input.addEventListener("blur", () => setTimeout(() => showFound(view, box, []), 150));
  return h("span", { class: "lk-searching" }, box.input, box.list);
}

function searchKey(view, box, event) {
  const move = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (move && box.results.length) {
    event.preventDefault();
    box.at = (box.at + move + box.results.length) % box.results.length;
    markFound(box);
  } else if (event.key === "Enter" && box.input.value.trim()) {
    event.preventDefault();
    takeFound(view, box, box.results[Math.max(0, box.at)] || { name: box.input.value.trim() });
  } else if (event.key === "Escape" && box.results.length) {
    event.stopPropagation();
    showFound(view, box, []);
  }
}

function showFound(view, box, results) {
  box.results = results;
  box.at = results.length ? 0 : -1;
  box.list.replaceChildren(...results.map((found, i) => h("div", {
    id: `${box.list.id}-${i}`, role: "option", class: "lk-option", "aria-selected": "false",
    on: { pointerdown: (event) => { event.preventDefault(); takeFound(view, box, found); } },
  }, h("span", { text: found.name }), h("small", { text: found.detail || "" }))));
  box.list.hidden = !results.length;
  setAttr(box.input, "aria-expanded", String(results.length > 0));
  markFound(box);
}

function markFound(box) {
  [...box.list.children].forEach((item, i) => setAttr(item, "aria-selected", String(i === box.at)));
  setAttr(box.input, "aria-activedescendant", box.at >= 0 ? `${box.list.id}-${box.at}` : null);
  if (box.at >= 0) box.list.children[box.at].scrollIntoView({ block: "nearest" });
}

function takeFound(view, box, found) {
  box.input.value = "";
  showFound(view, box, []);
  box.pick(found);
}
