// How a 3-D view is turned, shifted and zoomed: by pointer, touch, wheel and keys. It does not depend on blades.
/**
 * The view of a canvas on bodies around `home`. `size`: the diagonal of their box; `lone`: whether they are one slender body along z; `mirror`: -1 to show them
 * with x reversed; `views`: turn and tilt by name for a wide or a narrow canvas, the first of them to begin with; `changed`: called when a new picture is needed; `pointed`: called
 * with the event when a pointer moves over the canvas without turning it, or is put down.
 */
const orbit3d = (canvas, { home, size, lone, mirror, views, changed, pointed }) => {
  const { plus } = space3d;
  const [first] = Object.keys(views(true));
  const aspect = () => canvas.clientWidth / Math.max(1, canvas.clientHeight);
  const isWide = () => aspect() > 1.15;
  const state = { turn: 0, tilt: 0, near: 1, target: home };
  const look = name => {
    const [turn, tilt, near] = views(isWide())[name];
    Object.assign(state, { turn, tilt, near: near || 1, target: home });
    changed();
  };
  const camera = () => {
    const [ct, st, ci, si] = [Math.cos(state.turn), Math.sin(state.turn), Math.cos(state.tilt), Math.sin(state.tilt)];
    // In a wide window the span is horizontal, in a narrow one vertical. A single blade is slender; a propeller needs room on all sides.
    const wide = isWide();
    const room = lone ? (wide ? Math.max(size / aspect(), size * 0.34) : size) : 0.72 * size * Math.max(1, 1 / aspect());
    const reach = room * 0.56 / space3d.HALF_HEIGHT * state.near;
    return space3d.camera({ target: state.target, away: [st * ci, ct * ci, si], up: wide ? [ct, -st, 0] : [0, 0, 1], reach, aspect: aspect(), mirror });
  };
  const turn = (across, along) => {
    state.turn += across;
    state.tilt = Math.max(-1.5, Math.min(1.5, state.tilt + along));
    changed();
  };
  const shift = (dx, dy) => {
    const seen = camera();
    const k = 2 * seen.reach * space3d.HALF_HEIGHT / canvas.clientHeight;
    state.target = plus(plus(state.target, seen.right, -dx * k), seen.top, dy * k);
    changed();
  };
  const nearer = factor => { state.near = Math.max(0.03, Math.min(4, state.near * factor)); changed(); };

  // Pointer and touch: one finger rotates, two pan and zoom; Shift or the right button pans. In a wide window the span is horizontal, so the two directions are swapped.
  const fingers = new Map();
  canvas.addEventListener('pointerdown', event => {
    canvas.focus({ preventScroll: true });
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    pointed(event);
  });
  for (const end of ['pointerup', 'pointercancel']) canvas.addEventListener(end, event => fingers.delete(event.pointerId));
  canvas.addEventListener('contextmenu', event => event.preventDefault());
  canvas.addEventListener('pointermove', event => {
    const before = fingers.get(event.pointerId);
    if (!before) { pointed(event); return; }
    const [dx, dy] = [event.clientX - before[0], event.clientY - before[1]];
    if (fingers.size === 2) {
      const [, other] = [...fingers].find(([id]) => id !== event.pointerId) || [0, before];
      const gap = (x, y) => Math.hypot(x - other[0], y - other[1]);
      nearer(gap(...before) / Math.max(1, gap(event.clientX, event.clientY)));
      shift(dx / 2, dy / 2);
    } else if (event.shiftKey || (event.buttons & 2)) {
      shift(dx, dy);
    } else if (isWide()) {
      turn(dy * 0.008, dx * 0.006);
    } else {
      turn(-dx * 0.008, dy * 0.006);
    }
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
  });
  // The wheel scrolls the page until the view has been clicked. Some browsers report lines, of about 30 pixels.
  canvas.addEventListener('wheel', event => {
    if (document.activeElement !== canvas && !event.ctrlKey) return;
    event.preventDefault();
    nearer(Math.exp(event.deltaY * (event.deltaMode === 1 ? 30 : 1) * 0.001));
  }, { passive: false });
  canvas.addEventListener('keydown', event => {
    // Keys of the browser, for example for the text size, are left to the browser.
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (arrow && event.shiftKey) shift(40 * arrow[0], -40 * arrow[1]);
    else if (arrow) turn(0.12 * arrow[0], 0.12 * arrow[1]);
    else if (event.key === '+' || event.key === '=') nearer(0.85);
    else if (event.key === '-') nearer(1 / 0.85);
    else if (event.key === '0' || event.key === 'Home') look(first);
    else return;
    event.preventDefault();
  });
  /** The ray of the camera through the place of a pointer's event, in the axes of the bodies. */
  const rayAt = event => {
    const place = canvas.getBoundingClientRect();
    const [x, y] = [(event.clientX - place.left) / place.width, (event.clientY - place.top) / place.height];
    return space3d.ray(camera(), 2 * x - 1, 1 - 2 * y);
  };
  return { camera, look, rayAt };
};
