// The blade in space: scan, section planes, fitted outlines and the surface through them, turned by pointer, touch and keys.
(() => {
  const source = document.getElementById('view-data');
  const canvas = document.getElementById('stage');
  if (!source || !canvas) return;
  const readout = document.getElementById('stage-readout');
  const T = Three3d;
  const NO_DISTANCE = -32768;

  const begin = () => {
    const data = JSON.parse(source.textContent);
    let renderer;
    try {
      renderer = new T.WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
    } catch {
      readout.textContent = 'This browser offers no WebGL, so the blade cannot be turned here; the drawing above shows it.';
      canvas.parentElement.hidden = true;
      return;
    }
    const bytes = text => Uint8Array.from(atob(text), c => c.charCodeAt(0));
    const scene = new T.Scene();
    const camera = new T.PerspectiveCamera(30, 1, 0.01, 100);
    const sun = new T.DirectionalLight(0xffffff, 1.5);
    scene.add(new T.HemisphereLight(0xffffff, 0xb9b4aa, 1.9), camera);
    camera.add(sun);
    sun.position.set(-0.4, 0.7, 1);
    const root = new T.Group();
    // The table's axes of a left-hand blade are mirrored: turned back to what is in the hand.
    root.scale.x = data.mirrored ? -1 : 1;
    scene.add(root);
    const layers = {};
    const layer = (name, object) => { (layers[name] ||= new T.Group()).add(object); root.add(layers[name]); };

    // Lightness rises from inside to proud, so that the scale reads in grey as well.
    const RAMP = [[0x12, 0x30, 0x5a], [0x47, 0x68, 0x8f], [0x8f, 0x90, 0x8a], [0xd8, 0xa5, 0x44], [0xfb, 0xe9, 0xa8]];
    const PLAIN = [0xb4, 0xb6, 0xb0];
    const ramp = share => {
      const at = (Math.max(-1, Math.min(1, share)) + 1) * 2;
      const k = Math.min(3, Math.floor(at));
      return RAMP[k].map((c, i) => c + (at - k) * (RAMP[k + 1][i] - c));
    };
    const linear = c => { const s = c / 255; return s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4; };

    let scanMesh = null;
    let distances = null;
    if (data.scan) {
      const s = data.scan;
      const raw = new Uint16Array(bytes(s.vertices).buffer);
      const positions = Float32Array.from(raw, (v, i) => s.low[i % 3] + v * s.step[i % 3]);
      const faces = bytes(s.faces);
      distances = new Int16Array(bytes(s.distances).buffer);
      const geometry = new T.BufferGeometry();
      geometry.setAttribute('position', new T.BufferAttribute(positions, 3));
      geometry.setIndex(new T.BufferAttribute(s.wide ? new Uint32Array(faces.buffer) : new Uint16Array(faces.buffer), 1));
      geometry.computeVertexNormals();
      const colours = new Float32Array(positions.length);
      geometry.setAttribute('color', new T.BufferAttribute(colours, 3));
      scanMesh = new T.Mesh(geometry, new T.MeshLambertMaterial({ vertexColors: true, side: T.DoubleSide }));
      // Lines on the surface stay visible in front of it.
      Object.assign(scanMesh.material, { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
      layer('scan', scanMesh);
    }
    const colour = byDistance => {
      if (!scanMesh) return;
      const colours = scanMesh.geometry.attributes.color;
      distances.forEach((d, i) => {
        const c = byDistance && d !== NO_DISTANCE ? ramp(d / 1000 / data.scan.limit_mm) : PLAIN;
        colours.setXYZ(i, ...c.map(linear));
      });
      colours.needsUpdate = true;
    };

    const lines = { plain: new T.LineBasicMaterial(), flagged: new T.LineBasicMaterial() };
    const planeMaterial = new T.MeshBasicMaterial({ transparent: true, opacity: 0.16, side: T.DoubleSide, depthWrite: false });
    for (const o of data.outlines) {
      const n = o.points.length / 3;
      const pairs = [];
      for (let i = 0; i < n; i++) for (const j of [i, (i + 1) % n]) pairs.push(...o.points.slice(3 * j, 3 * j + 3));
      const geometry = new T.BufferGeometry();
      geometry.setAttribute('position', new T.BufferAttribute(new Float32Array(pairs), 3));
      layer('outlines', new T.LineSegments(geometry, o.flagged ? lines.flagged : lines.plain));
      layer('planes', new T.Mesh(plane(o.points), planeMaterial));
    }
    // A square in the plane of an outline, a quarter larger than it. Its directions come from the outline's own points.
    function plane(points) {
      const at = i => new T.Vector3(points[3 * i], points[3 * i + 1], points[3 * i + 2]);
      const n = points.length / 3;
      const middle = new T.Vector3();
      for (let i = 0; i < n; i++) middle.addScaledVector(at(i), 1 / n);
      let far = 0;
      for (let i = 1; i < n; i++) if (at(i).distanceTo(middle) > at(far).distanceTo(middle)) far = i;
      const u = at(far).sub(middle);
      let v = new T.Vector3();
      for (let i = 0; i < n; i++) {
        const w = at(i).sub(middle);
        w.addScaledVector(u, -w.dot(u) / u.lengthSq());
        if (w.length() > v.length()) v = w;
      }
      u.multiplyScalar(1.25);
      v.normalize().multiplyScalar(0.3 * u.length());
      const corner = (a, b) => middle.clone().addScaledVector(u, a).addScaledVector(v, b).toArray();
      const [a, b, c, d] = [corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1)];
      const geometry = new T.BufferGeometry();
      geometry.setAttribute('position', new T.BufferAttribute(new Float32Array([...a, ...b, ...c, ...a, ...c, ...d]), 3));
      return geometry;
    }
    const surfaceMaterial = new T.MeshLambertMaterial({ side: T.DoubleSide, color: 0x9aa6ad });
    for (const s of data.surfaces) {
      const geometry = new T.BufferGeometry();
      geometry.setAttribute('position', new T.BufferAttribute(new Float32Array(bytes(s.points).buffer), 3));
      const index = [];
      for (let level = 0; level + 1 < s.levels; level++) {
        for (let i = 0; i < s.ring; i++) {
          const [a, b] = [level * s.ring + i, level * s.ring + (i + 1) % s.ring];
          index.push(a, b, b + s.ring, a, b + s.ring, a + s.ring);
        }
      }
      geometry.setIndex(index);
      geometry.computeVertexNormals();
      layer('surface', new T.Mesh(geometry, surfaceMaterial));
    }

    // What is to be seen: centre and size of everything.
    const low = new T.Vector3(Infinity, Infinity, Infinity);
    const high = low.clone().negate();
    root.traverse(o => {
      if (!o.geometry) return;
      o.geometry.computeBoundingBox();
      low.min(o.geometry.boundingBox.min);
      high.max(o.geometry.boundingBox.max);
    });
    const home = low.clone().add(high).multiplyScalar(0.5);
    home.x *= root.scale.x;
    const size = high.distanceTo(low);

    // Directions to look from, in blade axes: flight is y, the span z, the way the blade moves x.
    const lone = data.surfaces.length < 2;
    const isWide = () => canvas.clientWidth > 1.15 * canvas.clientHeight;
    const VIEWS = {
      back: () => [0.12, 0.16],
      face: () => [Math.PI + 0.12, 0.16],
      leading: () => [Math.PI / 2 * root.scale.x, 0.1],
      // Flight is up, so that sections stand as on their sheets' blade angle.
      tip: () => [isWide() ? -Math.PI / 2 : Math.PI, 1.45],
    };
    const state = { turn: 0, tilt: 0, near: 1, target: home.clone() };
    const look = name => { [state.turn, state.tilt] = VIEWS[name](); state.near = name === 'tip' ? 0.8 : 1; state.target.copy(home); draw(); };
    const place = () => {
      const box = canvas.getBoundingClientRect();
      const [w, h] = [Math.max(1, Math.round(box.width)), Math.max(1, Math.round(box.height))];
      renderer.setPixelRatio(Math.min(2, window.devicePixelRatio || 1));
      renderer.setSize(w, h, false);
      camera.aspect = w / h;
      camera.updateProjectionMatrix();
      const [ct, st, ci, si] = [Math.cos(state.turn), Math.sin(state.turn), Math.cos(state.tilt), Math.sin(state.tilt)];
      // In a wide window the span lies across, in a narrow one it stands up.
      const wide = isWide();
      // A lone blade is slender; a propeller needs room on all sides.
      const room = lone ? (wide ? Math.max(size / camera.aspect, size * 0.34) : size) : 0.72 * size * Math.max(1, 1 / camera.aspect);
      const reach = room * 0.56 / Math.tan(camera.fov * Math.PI / 360) * state.near;
      const away = new T.Vector3(st * ci, ct * ci, si);
      camera.up.set(0, 0, 1);
      if (wide) camera.up.set(ct, -st, 0);
      camera.position.copy(state.target).addScaledVector(away, reach);
      camera.near = reach / 100;
      camera.far = reach * 10;
      camera.updateProjectionMatrix();
      camera.lookAt(state.target);
      return reach;
    };
    const draw = () => {
      const style = getComputedStyle(document.documentElement);
      const value = name => new T.Color(style.getPropertyValue(name).trim());
      renderer.setClearColor(value('--panel'), 1);
      lines.plain.color = value('--ink');
      lines.flagged.color = value('--two');
      planeMaterial.color = value('--one');
      place();
      renderer.render(scene, camera);
    };
    let waiting = false;
    const soon = () => { if (!waiting) { waiting = true; requestAnimationFrame(() => { waiting = false; draw(); }); } };
    const turn = (across, along) => {
      state.turn += across;
      state.tilt = Math.max(-1.5, Math.min(1.5, state.tilt + along));
      soon();
    };
    const shift = (dx, dy) => {
      const reach = camera.position.distanceTo(state.target);
      const k = 2 * reach * Math.tan(camera.fov * Math.PI / 360) / canvas.clientHeight;
      const [right, up] = [new T.Vector3(), new T.Vector3()];
      camera.matrixWorld.extractBasis(right, up, new T.Vector3());
      state.target.addScaledVector(right, -dx * k).addScaledVector(up, dy * k);
      soon();
    };
    const nearer = factor => { state.near = Math.max(0.03, Math.min(4, state.near * factor)); soon(); };

    // Pointer and touch: one turns, two shift and pinch, Shift shifts. The span lies across in wide windows, so the ways change places.
    const fingers = new Map();
    canvas.addEventListener('pointerdown', event => { canvas.focus({ preventScroll: true }); canvas.setPointerCapture(event.pointerId); fingers.set(event.pointerId, [event.clientX, event.clientY]); });
    for (const end of ['pointerup', 'pointercancel']) canvas.addEventListener(end, event => fingers.delete(event.pointerId));
    canvas.addEventListener('pointermove', event => {
      const before = fingers.get(event.pointerId);
      if (!before) { tell(event); return; }
      const [dx, dy] = [event.clientX - before[0], event.clientY - before[1]];
      if (fingers.size === 2) {
        const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
        const gap = (x, y) => Math.hypot(x - other[0], y - other[1]);
        nearer(gap(...before) / Math.max(1, gap(event.clientX, event.clientY)));
        shift(dx / 2, dy / 2);
      } else if (event.shiftKey) {
        shift(dx, dy);
      } else {
        if (isWide()) turn(dy * 0.008, dx * 0.006); else turn(-dx * 0.008, dy * 0.006);
      }
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
    });
    // The wheel scrolls the page until the view has been clicked.
    canvas.addEventListener('wheel', event => { if (document.activeElement !== canvas && !event.ctrlKey) return; event.preventDefault(); nearer(Math.exp(event.deltaY * 0.001)); }, { passive: false });
    canvas.addEventListener('keydown', event => {
      const step = 0.12;
      const ways = {
        ArrowLeft: () => turn(-step, 0), ArrowRight: () => turn(step, 0), ArrowUp: () => turn(0, step), ArrowDown: () => turn(0, -step),
        '+': () => nearer(0.85), '=': () => nearer(0.85), '-': () => nearer(1 / 0.85), 0: () => look('back'),
      };
      if (!ways[event.key]) return;
      event.preventDefault();
      ways[event.key]();
    });

    // The distance under the pointer in figures: colour alone is not enough.
    const ray = new T.Raycaster();
    let last = 0;
    const tell = event => {
      if (!scanMesh || !layers.scan.visible || event.timeStamp - last < 60) return;
      last = event.timeStamp;
      const box = canvas.getBoundingClientRect();
      ray.setFromCamera(new T.Vector2((event.clientX - box.left) / box.width * 2 - 1, 1 - (event.clientY - box.top) / box.height * 2), camera);
      const hit = ray.intersectObject(scanMesh)[0];
      if (!hit) return;
      const point = root.worldToLocal(hit.point.clone());
      const d = distances[hit.face.a];
      // Sections lie across the span: a lone blade's radius is z. Among several blades the distance from the axis stands for it.
      const at = lone ? `r = ${lengths.text(point.z, 0)}` : `${lengths.text(Math.hypot(point.x, point.z), 0)} from the axis`;
      readout.textContent = d === NO_DISTANCE ? `${at}: beyond the stations, nothing to compare with.` : `${at}: the scan lies ${lengths.text(Math.abs(d) / 1e6, 2)} ${d < 0 ? 'inside' : 'outside'} the outline.`;
    };

    for (const box of document.querySelectorAll('.space input[type=checkbox]')) {
      const apply = () => {
        if (box.name === 'colour') colour(box.checked);
        else if (layers[box.name]) layers[box.name].visible = box.checked;
      };
      apply();
      box.addEventListener('change', () => { apply(); soon(); });
    }
    if (!document.querySelector('.space input[name=colour]')) colour(false);
    for (const button of document.querySelectorAll('.space [data-view]')) button.addEventListener('click', () => look(button.dataset.view));
    new ResizeObserver(soon).observe(canvas);
    document.addEventListener('themechange', soon);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', soon);
    look('back');
    canvas.dataset.ready = 'true';
  };
  // The text of the page comes first.
  requestAnimationFrame(() => setTimeout(begin, 0));
})();
