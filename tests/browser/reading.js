// What is hard to read, or to tell, on the page that is shown: text with too little contrast
// (WCAG 2.2, 1.4.3: 4.5 to 1, or 3 to 1 where it is large), fields and buttons without a name,
// an id that is there twice, headings that leave a level out.
() => {
  const found = [];
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 1;
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  const seen = new Map();

  // The colour of paint over what lies below it, as red, green, blue.
  const over = (paint, below) => {
    const name = paint + below;
    if (!seen.has(name)) {
      pen.fillStyle = `rgb(${below})`;
      pen.fillRect(0, 0, 1, 1);
      pen.fillStyle = paint;
      pen.fillRect(0, 0, 1, 1);
      seen.set(name, [...pen.getImageData(0, 0, 1, 1).data].slice(0, 3));
    }
    return seen.get(name);
  };
  const ground = (element) => {
    const below = element.parentElement ? ground(element.parentElement) : [255, 255, 255];
    return over(getComputedStyle(element).backgroundColor, below);
  };
  const light = (colour) => {
    const [r, g, b] = colour.map((c) => {
      const part = c / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const contrast = (one, two) => {
    const [low, high] = [light(one), light(two)].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  };

  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const read = new Set();
  while (texts.nextNode()) {
    const element = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || read.has(element) || element.closest("svg")) continue;
    read.add(element);
    if (!element.checkVisibility()) continue;
    const style = getComputedStyle(element);
    const below = ground(element);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    const ratio = contrast(over(style.color, below), below);
    if (ratio < (large ? 3 : 4.5)) {
      found.push(`contrast ${ratio.toFixed(2)} of “${element.textContent.trim().slice(0, 40)}”`);
    }
  }

  for (const field of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    if (!field.labels.length && !field.ariaLabel) found.push(`no label: ${field.outerHTML}`);
  }
  for (const button of document.querySelectorAll("a, button, summary")) {
    if (!button.ariaLabel && !button.textContent.trim()) found.push(`no name: ${button.outerHTML}`);
  }
  const ids = [...document.querySelectorAll("[id]")].map((element) => element.id);
  for (const id of new Set(ids.filter((id, n) => ids.indexOf(id) !== n))) {
    found.push(`the id ${id} twice`);
  }
  let level = 0;
  for (const heading of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
    const next = Number(heading.tagName[1]);
    if (next > level + 1) found.push(`h${next} after h${level}: ${heading.textContent.trim()}`);
    level = next;
  }
  return found;
}
