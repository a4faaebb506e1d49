(() => {
  const make = (tag, words, more) => Object.assign(document.createElement(tag), { textContent: words || "" }, more);
  // Pictures in a window of their own.
  const box = make("dialog"), close = make("button", "Close", { type: "button" });
  box.setAttribute("aria-label", "Picture, enlarged");
  close.onclick = () => box.close();
  box.onclick = (e) => { if (e.target === box) box.close(); };
  document.body.append(box);
  document.querySelectorAll("main svg[role=img]").forEach((svg) => {
    const says = svg.getAttribute("aria-label") || svg.querySelector("title")?.textContent || "picture";
    const seen = make("span", "", { className: "seen" });
    const open = make("button", "\u2922", { type: "button", className: "zoom", title: "Enlarge" });
    open.setAttribute("aria-label", "Enlarge: " + says);
    open.onclick = () => {
      const copy = svg.cloneNode(true);
      copy.querySelectorAll("[id]").forEach((e) => e.removeAttribute("id"));
      copy.removeAttribute("aria-labelledby");
      copy.setAttribute("aria-label", says);
      box.replaceChildren(close, copy);
      box.showModal();
    };
    svg.onclick = open.onclick;
    svg.replaceWith(seen);
    seen.append(svg, open);
  });
  // Findings of one kind alone.
  const first = document.querySelector("#decisions-and-notes");
  const cards = first ? [...first.parentElement.querySelectorAll(".card")] : [];
  const kinds = ["stop", "ask", "note"].filter((k) => cards.some((c) => c.querySelector(".sev." + k)));
  if (kinds.length > 1) {
    const tools = make("div", "", { className: "tools" });
    tools.setAttribute("role", "group");
    tools.setAttribute("aria-label", "Show findings");
    ["all", ...kinds].forEach((kind) => {
      const b = make("button", kind, { type: "button" });
      b.setAttribute("aria-pressed", String(kind === "all"));
      b.onclick = () => {
        tools.querySelectorAll("button").forEach((o) => o.setAttribute("aria-pressed", String(o === b)));
        if (kind !== "all") first.parentElement.querySelectorAll("details").forEach((d) => { d.open = true; });
        cards.forEach((c) => { c.hidden = kind !== "all" && !c.querySelector(".sev." + kind); });
      };
      tools.append(b);
    });
    first.after(tools);
  }
  // What is folded is printed.
  let folded = [];
  addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details:not([open])")];
    folded.forEach((d) => { d.open = true; });
  });
  addEventListener("afterprint", () => folded.forEach((d) => { d.open = false; }));
})();
