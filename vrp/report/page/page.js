"use strict";
(() => {
  const readout = document.querySelector(".readout");
  const say = (zone) => {
    readout.textContent = zone ? zone.getAttribute("aria-label") : readout.dataset.empty;
    readout.classList.toggle("on", Boolean(zone));
  };
  const open = () => {
    const card = document.getElementById(location.hash.slice(1));
    const ledger = card && card.querySelector("details");
    if (ledger) {
      ledger.open = true;
      card.focus({ preventScroll: true });
    }
  };
  // The first touch of a zone shows its figures, the second one leads to its card.
  let touched = null;
  for (const zone of document.querySelectorAll(".map a")) {
    zone.addEventListener("pointerenter", () => say(zone));
    zone.addEventListener("focus", () => say(zone));
    zone.addEventListener("pointerleave", (event) => {
      if (event.pointerType === "mouse") say(null);
    });
    zone.addEventListener("click", (event) => {
      if (event.pointerType === "touch" && touched !== zone) {
        event.preventDefault();
        touched = zone;
        say(zone);
      } else {
        setTimeout(open);
      }
    });
  }
  addEventListener("hashchange", open);
  open();

  for (const table of document.querySelectorAll("table.zones")) {
    const heads = [...table.tHead.rows[0].cells];
    const value = (row, at) => {
      const shown = row.cells[at].querySelector("data");
      return shown ? shown.value : row.cells[at].textContent;
    };
    heads.forEach((head, at) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => {
        const down = head.getAttribute("aria-sort") === "ascending";
        for (const other of heads) other.removeAttribute("aria-sort");
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        const rows = [...table.tBodies[0].rows];
        rows.sort((one, other) => {
          const [a, b] = [value(one, at), value(other, at)];
          const order = isNaN(a) || isNaN(b) ? (a < b ? -1 : a > b ? 1 : 0) : a - b;
          return down ? -order : order;
        });
        table.tBodies[0].append(...rows);
      });
    });
  }

  const closed = [];
  addEventListener("beforeprint", () => {
    for (const one of document.querySelectorAll("details:not([open])")) {
      one.open = true;
      closed.push(one);
    }
  });
  addEventListener("afterprint", () => {
    for (const one of closed.splice(0)) one.open = false;
  });
})();
