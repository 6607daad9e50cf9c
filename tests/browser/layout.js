// Everything in the page that does not fit: a list of sentences, empty when all is well.
(() => {
  const faults = [];
  const page = document.documentElement;
  const least = 1; // pixels of overlap that rounding of boxes may make
  const short = text => text.trim().replace(/\s+/g, ' ').slice(0, 60);
  const place = box => `at ${Math.round(box.left)}, ${Math.round(box.top)}`;

  if (page.scrollWidth > page.clientWidth) {
    faults.push(`the page is ${page.scrollWidth} wide in ${page.clientWidth}`);
  }

  const common = (a, b) => ({
    left: Math.max(a.left, b.left),
    right: Math.min(a.right, b.right),
    top: Math.max(a.top, b.top),
    bottom: Math.min(a.bottom, b.bottom),
  });
  const overlap = (a, b) => {
    const shared = common(a, b);
    return shared.right - shared.left > least && shared.bottom - shared.top > least;
  };
  // Pairs of boxes on top of each other, by a sweep from top to bottom.
  const pairs = (boxes, found) => {
    boxes.sort((a, b) => a.top - b.top);
    boxes.forEach((box, place) => {
      for (let next = place + 1; next < boxes.length && boxes[next].top < box.bottom; next++) {
        if (box.of !== boxes[next].of && overlap(box, boxes[next])) {
          found(box, boxes[next]);
        }
      }
    });
  };

  // Texts of the page itself, a box for each line.
  const lines = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim() || parent.closest('svg') || !parent.checkVisibility()) {
      continue;
    }
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const whole of range.getClientRects()) {
      // Put aside until a keyboard reaches it.
      if (whole.width < 1 || whole.right <= 0) {
        continue;
      }
      let box = { left: whole.left, right: whole.right, top: whole.top, bottom: whole.bottom };
      let scrolls = false;
      for (let around = parent; around !== document.body; around = around.parentElement) {
        const style = getComputedStyle(around);
        if (style.overflowX === 'visible') {
          continue;
        }
        const frame = around.getBoundingClientRect();
        if (/auto|scroll/.test(style.overflowX)) {
          scrolls = true;
        } else if (box.left < frame.left - least || box.right > frame.right + least) {
          faults.push(`"${short(node.data)}" is clipped ${place(box)}`);
        }
        box = common(box, frame);
      }
      if (!scrolls && (box.left < -least || box.right > page.clientWidth + least)) {
        faults.push(`"${short(node.data)}" leaves the page ${place(box)}`);
      }
      if (box.right > box.left && box.bottom > box.top) {
        lines.push({ ...box, of: node, text: node.data });
      }
    }
  }
  if (lines.length < 50) {
    faults.push(`only ${lines.length} lines of text`);
  }
  pairs(lines, (a, b) => faults.push(`"${short(a.text)}" and "${short(b.text)}" overlap ${place(a)}`));

  // Pictures: their size, their texts, something drawn beside frame, grid and legend.
  for (const picture of document.querySelectorAll('.note-scroll > svg')) {
    const name = short(picture.getAttribute('aria-label') || 'a picture');
    const frame = picture.getBoundingClientRect();
    if (frame.width < 200 || frame.height < 60) {
      faults.push(`${name}: only ${frame.width} x ${frame.height}`);
    }
    const texts = [];
    for (const text of picture.querySelectorAll('text')) {
      const whole = text.getBoundingClientRect();
      if (whole.width === 0) {
        continue;
      }
      if (whole.left < frame.left - least || whole.right > frame.right + least
          || whole.top < frame.top - least || whole.bottom > frame.bottom + least) {
        faults.push(`${name}: "${short(text.textContent)}" is clipped`);
      }
      // A box of a line is higher than its letters: a fifth of it above and below is air.
      const upright = /rotate\(-?90/.test(text.getAttribute('transform') || '');
      const air = [0.2 * whole.width, 0.2 * whole.height];
      texts.push({
        left: whole.left + (upright ? air[0] : 0),
        right: whole.right - (upright ? air[0] : 0),
        top: whole.top + (upright ? 0 : air[1]),
        bottom: whole.bottom - (upright ? 0 : air[1]),
        of: text,
        text: text.textContent,
      });
    }
    if (texts.length === 0) {
      faults.push(`${name}: no text`);
    }
    pairs(texts, (a, b) =>
      faults.push(`${name}: "${short(a.text)}" and "${short(b.text)}" overlap`));
    const around = '.grid, .frame, .legend, .guides, .mark, .limit, defs, clipPath';
    const drawn = [...picture.querySelectorAll('path, polyline, polygon, line, circle, rect, image')]
      .filter(shape => !shape.closest(around) && shape.closest('g[class], image'))
      .map(shape => shape.getBoundingClientRect())
      .filter(box => box.width > 0.5 || box.height > 0.5);
    if (drawn.length === 0) {
      faults.push(`${name}: nothing is drawn`);
    }
  }
  return faults;
})()
