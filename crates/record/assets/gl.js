// 3-D drawing with WebGL2: a camera, lit surfaces, lines of any width and transparent planes. It does not depend on blades.
const space3d = (() => {
  // Vectors are arrays of three numbers.
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const times = (a, k) => a.map(v => v * k);
  /** a + k b. */
  const plus = (a, b, k = 1) => a.map((v, i) => v + k * b[i]);
  const size = a => Math.hypot(...a);
  const unit = a => times(a, 1 / (size(a) || 1));

  /** Tangent of half the vertical field of view: 15 degrees show a slender part with little perspective distortion. */
  const HALF_HEIGHT = Math.tan(15 * Math.PI / 180);

  /**
   * A camera that looks at `target` from the direction `away`, a unit vector, at the distance `reach`; `up` is up in the picture, `aspect` its width
   * divided by its height. `mirror` is -1 to show the bodies with x reversed, otherwise 1. Matrices are in column-major order, as WebGL requires.
   */
  const camera = ({ target, away, up, reach, aspect, mirror }) => {
    const right = unit(cross(up, away));
    const top = cross(away, right);
    const eye = plus(target, away, reach);
    // Depths from a hundredth to ten times the reach include all bodies and keep enough depth resolution.
    const [near, far] = [reach / 100, reach * 10];
    const [wide, high] = [1 / (HALF_HEIGHT * aspect), 1 / HALF_HEIGHT];
    const depth = (far + near) / (near - far);
    const signs = [mirror, 1, 1];
    const clip = signs.flatMap((s, k) => [wide * right[k] * s, high * top[k] * s, depth * away[k] * s, -away[k] * s]);
    clip.push(-wide * dot(right, eye), -high * dot(top, eye), -depth * dot(away, eye) + 2 * far * near / (near - far), dot(away, eye));
    // Normals of a mirrored body are mirrored as well; a reflection is its own inverse transpose.
    const turn = signs.flatMap((s, k) => [right[k] * s, top[k] * s, away[k] * s]);
    const world = axis => [right[axis], top[axis], away[axis]];
    return { eye, right, top, away, reach, near, aspect, mirror, clip, turn, world };
  };

  /** The ray from the camera through a point of the picture, -1 to 1 from left to right and from bottom to top, in the axes of the bodies. */
  const ray = (seen, x, y) => {
    const towards = plus(plus(times(seen.away, -1), seen.right, x * HALF_HEIGHT * seen.aspect), seen.top, y * HALF_HEIGHT);
    const own = v => [v[0] * seen.mirror, v[1], v[2]];
    return { from: own(seen.eye), towards: own(unit(towards)) };
  };

  /** The nearest intersection of a ray with a surface, from either side, and the corner of the triangle nearest to it; null if there is none. */
  const hit = ({ from: [ox, oy, oz], towards: [dx, dy, dz] }, { positions: p, index }) => {
    let nearest = Infinity;
    let corner = -1;
    for (let f = 0; f < index.length; f += 3) {
      const [a, b, c] = [3 * index[f], 3 * index[f + 1], 3 * index[f + 2]];
      const ax = p[a], ay = p[a + 1], az = p[a + 2];
      const ux = p[b] - ax, uy = p[b + 1] - ay, uz = p[b + 2] - az;
      const vx = p[c] - ax, vy = p[c + 1] - ay, vz = p[c + 2] - az;
      // Cramer's rule for from + t towards = a + s u + r v.
      const hx = dy * vz - dz * vy, hy = dz * vx - dx * vz, hz = dx * vy - dy * vx;
      const det = ux * hx + uy * hy + uz * hz;
      if (det === 0) continue;
      const wx = ox - ax, wy = oy - ay, wz = oz - az;
      const s = (wx * hx + wy * hy + wz * hz) / det;
      if (s < 0 || s > 1) continue;
      const qx = wy * uz - wz * uy, qy = wz * ux - wx * uz, qz = wx * uy - wy * ux;
      const r = (dx * qx + dy * qy + dz * qz) / det;
      if (r < 0 || s + r > 1) continue;
      const t = (vx * qx + vy * qy + vz * qz) / det;
      if (t <= 0 || t >= nearest) continue;
      nearest = t;
      corner = index[f + (s > r && s > 1 - s - r ? 1 : r > 1 - s - r ? 2 : 0)];
    }
    return corner < 0 ? null : { corner, point: [ox + nearest * dx, oy + nearest * dy, oz + nearest * dz] };
  };

  /** Normals of vertices: the sum over their triangles, each weighted by its area. */
  const normals = (p, index) => {
    const n = new Float32Array(p.length);
    for (let f = 0; f < index.length; f += 3) {
      const [a, b, c] = [3 * index[f], 3 * index[f + 1], 3 * index[f + 2]];
      const ux = p[b] - p[a], uy = p[b + 1] - p[a + 1], uz = p[b + 2] - p[a + 2];
      const vx = p[c] - p[a], vy = p[c + 1] - p[a + 1], vz = p[c + 2] - p[a + 2];
      const [x, y, z] = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
      for (const k of [a, b, c]) { n[k] += x; n[k + 1] += y; n[k + 2] += z; }
    }
    // The sums are as small as the triangles, so they are normalised before the graphics card rounds them.
    for (let k = 0; k < n.length; k += 3) {
      const length = Math.hypot(n[k], n[k + 1], n[k + 2]) || 1;
      for (let i = k; i < k + 3; i++) n[i] /= length;
    }
    return n;
  };

  // Colours are input and output in sRGB (IEC 61966-2-1); light is computed in linear values.
  const HEAD = `#version 300 es
    precision highp float;
    vec3 toLinear(vec3 c) { return mix(c / 12.92, pow((c + 0.055) / 1.055, vec3(2.4)), step(0.04045, c)); }
    vec3 toScreen(vec3 c) { return mix(c * 12.92, 1.055 * pow(c, vec3(1.0 / 2.4)) - 0.055, step(0.0031308, c)); }
    `;
  const SURFACE = {
    vertex: `uniform mat4 clip; uniform mat3 turn; uniform vec4 tint;
      layout(location = 0) in vec3 position; layout(location = 1) in vec3 normal; layout(location = 2) in vec3 colour;
      out vec3 outward; out vec3 paint;
      void main() {
        gl_Position = clip * vec4(position, 1.0);
        outward = turn * normal;
        paint = toLinear(mix(colour, tint.rgb, tint.a));
      }`,
    // Light from the sky, warmer and darker light from below, and a lamp over the viewer's left shoulder. Their intensities add up to a little over 1, so that
    // a white face turned to both is white.
    fragment: `uniform vec3 sky; in vec3 outward; in vec3 paint; out vec4 screen;
      const vec3 LAMP = normalize(vec3(-0.3, 0.5, 1.0));
      const vec3 GROUND = vec3(0.485, 0.456, 0.402);
      void main() {
        vec3 n = normalize(gl_FrontFacing ? outward : -outward);
        vec3 light = 0.6 * mix(GROUND, vec3(1.0), 0.5 + 0.5 * dot(n, sky)) + 0.48 * max(0.0, dot(n, LAMP));
        screen = vec4(toScreen(min(paint * light, 1.0)), 1.0);
      }`,
  };
  const FLAT = 'uniform vec4 tint; out vec4 screen; void main() { screen = tint; }';
  const PLANES = {
    vertex: 'uniform mat4 clip; layout(location = 0) in vec3 position; void main() { gl_Position = clip * vec4(position, 1.0); }',
    fragment: FLAT,
  };
  // Lines of WebGL itself are one pixel wide. Here each segment is a rectangle of the given width, lengthened by its width, so that segments join.
  const LINES = {
    vertex: `uniform mat4 clip; uniform vec2 pixels; uniform float width; uniform float near;
      layout(location = 0) in vec3 first; layout(location = 1) in vec3 second;
      void main() {
        vec4 a = clip * vec4(first, 1.0), b = clip * vec4(second, 1.0);
        gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
        if (a.w < near && b.w < near) return;
        // An end behind the viewer is moved to the near plane.
        if (a.w < near) a = mix(a, b, (near - a.w) / (b.w - a.w));
        if (b.w < near) b = mix(b, a, (near - b.w) / (a.w - b.w));
        vec2 along = (b.xy / b.w - a.xy / a.w) * pixels;
        along = length(along) > 0.0 ? normalize(along) : vec2(1.0, 0.0);
        bool last = (gl_VertexID & 1) == 1;
        vec4 end = last ? b : a;
        vec2 aside = vec2(-along.y, along.x) * ((gl_VertexID & 2) == 2 ? 1.0 : -1.0);
        end.xy += (aside + along * (last ? 1.0 : -1.0)) * width / pixels * end.w;
        gl_Position = end;
      }`,
    fragment: FLAT,
  };

  /** Samples for each pixel of a picture with smooth edges; every WebGL 2 has four. */
  const SAMPLES = 4;

  const program = (gl, { vertex, fragment }) => {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, HEAD + text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(gl.getProgramInfoLog(made));
    const at = new Map();
    return { made, at: name => { if (!at.has(name)) at.set(name, gl.getUniformLocation(made, name)); return at.get(name); } };
  };

  /**
   * Draws bodies on a canvas. Throws where WebGL2 is missing. A body is one of
   *   { kind: 'surface', positions, index, colours }   colours: red, green, blue and one unused byte for each vertex, or none
   *   { kind: 'lines', ends }                          six numbers for each piece
   *   { kind: 'planes', positions }                    nine numbers for each triangle
   * with properties that may change between pictures: `shown`, `tint` (sRGB and fraction, 0 to 1; for a surface, the fraction of the tint over its colours)
   * and `width` of lines in CSS pixels.
   */
  const painter = (canvas, bodies) => {
    // The drawing buffer is kept, because a new picture is drawn only when something has changed. Its edges are smoothed by several samples for each pixel in a
    // buffer of our own, since the canvas' own ones could not be left out while a view is turned, and cost most of the time without a graphics card.
    const gl = canvas.getContext('webgl2', { antialias: false, alpha: true, preserveDrawingBuffer: true });
    if (!gl) throw new Error('no WebGL2');
    let programs;
    let held;
    /** The buffer with several samples for each pixel, and its size. */
    const noFrame = { frame: /** @type {WebGLFramebuffer|null} */ (null), parts: /** @type {(WebGLRenderbuffer|null)[]} */ ([]), width: 0, height: 0 };
    let fine = noFrame;
    const fineFrame = (width, height) => {
      if (fine.frame && fine.width === width && fine.height === height) return fine.frame;
      gl.deleteFramebuffer(fine.frame);
      fine.parts.forEach(part => gl.deleteRenderbuffer(part));
      const frame = gl.createFramebuffer();
      gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
      const parts = [[gl.RGBA8, gl.COLOR_ATTACHMENT0], [gl.DEPTH_COMPONENT24, gl.DEPTH_ATTACHMENT]].map(([format, place]) => {
        const part = gl.createRenderbuffer();
        gl.bindRenderbuffer(gl.RENDERBUFFER, part);
        gl.renderbufferStorageMultisample(gl.RENDERBUFFER, SAMPLES, format, width, height);
        gl.framebufferRenderbuffer(gl.FRAMEBUFFER, place, gl.RENDERBUFFER, part);
        return part;
      });
      fine = { frame, parts, width, height };
      return frame;
    };

    const set = (what, on) => { if (on) gl.enable(what); else gl.disable(what); };
    const upload = body => {
      const held = { shape: gl.createVertexArray() };
      gl.bindVertexArray(held.shape);
      const fill = (target, data) => { gl.bindBuffer(target, gl.createBuffer()); gl.bufferData(target, data, gl.STATIC_DRAW); };
      const attribute = (place, type, stride, offset, divisor) => {
        gl.enableVertexAttribArray(place);
        gl.vertexAttribPointer(place, 3, type, type === gl.UNSIGNED_BYTE, stride, offset);
        gl.vertexAttribDivisor(place, divisor);
      };
      if (body.kind === 'lines') {
        fill(gl.ARRAY_BUFFER, body.ends);
        attribute(0, gl.FLOAT, 24, 0, 1);
        attribute(1, gl.FLOAT, 24, 12, 1);
      } else {
        fill(gl.ARRAY_BUFFER, body.positions);
        attribute(0, gl.FLOAT, 12, 0, 0);
      }
      if (body.kind === 'surface') {
        fill(gl.ARRAY_BUFFER, body.normals ||= normals(body.positions, body.index));
        attribute(1, gl.FLOAT, 12, 0, 0);
        if (body.colours) {
          fill(gl.ARRAY_BUFFER, body.colours);
          attribute(2, gl.UNSIGNED_BYTE, 4, 0, 0);
        }
        fill(gl.ELEMENT_ARRAY_BUFFER, body.index);
      }
      gl.bindVertexArray(null);
      return held;
    };
    /** Uploads everything to the graphics card: at the start, and again after its context was lost. */
    const load = () => {
      programs = { surface: program(gl, SURFACE), lines: program(gl, LINES), planes: program(gl, PLANES) };
      held = new Map(bodies.map(body => [body, upload(body)]));
      fine = noFrame;
    };
    load();

    /** Draws the view of the camera `seen`, with `ratio` pixels per CSS pixel. `background` is null for none. `isQuick`: with one sample for each pixel. */
    const draw = (seen, width, height, ratio, background, isQuick = false) => {
      if (gl.isContextLost()) return;
      // Setting a size clears the canvas and costs time.
      if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
      const frame = isQuick ? null : fineFrame(width, height);
      gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
      gl.viewport(0, 0, width, height);
      gl.clearColor(...(background || [0, 0, 0]), background ? 1 : 0);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      // A mirrored body has triangles of the opposite orientation.
      gl.frontFace(seen.mirror < 0 ? gl.CW : gl.CCW);
      // Surfaces are moved back a little, so that lines on them are in front.
      gl.polygonOffset(1.5, 1);
      gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
      for (const kind of ['surface', 'lines', 'planes']) {
        const { made, at } = programs[kind];
        gl.useProgram(made);
        gl.uniformMatrix4fv(at('clip'), false, seen.clip);
        gl.uniformMatrix3fv(at('turn'), false, seen.turn);
        // Bodies are lit along y in their own axes, whatever the view.
        gl.uniform3fv(at('sky'), seen.world(1));
        gl.uniform2f(at('pixels'), width, height);
        gl.uniform1f(at('near'), seen.near);
        set(gl.POLYGON_OFFSET_FILL, kind === 'surface');
        // Planes hide nothing. They have one colour, so their drawing order does not matter.
        set(gl.BLEND, kind === 'planes');
        gl.depthMask(kind !== 'planes');
        for (const body of bodies) {
          if (body.kind !== kind || !body.shown) continue;
          gl.bindVertexArray(held.get(body).shape);
          gl.uniform4fv(at('tint'), body.tint);
          if (kind === 'lines') {
            gl.uniform1f(at('width'), body.width * ratio);
            gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, body.ends.length / 6);
          } else if (kind === 'planes') {
            gl.drawArrays(gl.TRIANGLES, 0, body.positions.length / 3);
          } else {
            gl.drawElements(gl.TRIANGLES, body.index.length, body.index.BYTES_PER_ELEMENT === 4 ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT, 0);
          }
        }
      }
      gl.depthMask(true);
      gl.bindVertexArray(null);
      if (!frame) return;
      gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, null);
      gl.blitFramebuffer(0, 0, width, height, 0, 0, width, height, gl.COLOR_BUFFER_BIT, gl.NEAREST);
      gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    };
    return { draw, load, lost: () => gl.isContextLost() };
  };

  return { HALF_HEIGHT, camera, cross, dot, hit, normals, painter, plus, ray, size, times, unit };
})();
