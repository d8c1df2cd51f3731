// Marks of the timeline: the filter gives the outline, the verdict the filling:
// full for keep, open for doubtful, open and crossed for cull.
const shapes = {
  outlines: [
    Array.from({ length: 24 }, (_, k) => [Math.cos((k * Math.PI) / 12), Math.sin((k * Math.PI) / 12)]), // disc
    polygon(4, Math.PI / 4, 1.2), // square
    polygon(3, -Math.PI / 2, 1.3), // triangle
    polygon(4, 0, 1.3), // diamond
    polygon(5, -Math.PI / 2, 1.15), // pentagon
    polygon(3, Math.PI / 2, 1.3), // triangle on its tip
  ],

  outline: (filter) => shapes.outlines[filter % shapes.outlines.length],
  colorName: (filter) => "f" + (filter % 6),

  // paint draws a mark on a canvas.
  paint(context, x, y, radius, filter, verdict, color, paper) {
    const points = shapes.outline(filter);
    context.beginPath();
    points.forEach(([px, py], k) => {
      const to = k === 0 ? "moveTo" : "lineTo";
      context[to](x + px * radius, y + py * radius);
    });
    context.closePath();
    context.lineWidth = radius * 0.4;
    context.strokeStyle = color;
    context.fillStyle = verdict === "keep" ? color : paper;
    context.fill();
    context.stroke();
    if (verdict === "cull") {
      const reach = radius * 1.5;
      context.beginPath();
      context.moveTo(x - reach, y - reach);
      context.lineTo(x + reach, y + reach);
      context.moveTo(x - reach, y + reach);
      context.lineTo(x + reach, y - reach);
      context.stroke();
    }
  },

  // sign is the same mark as a small picture for the legend.
  sign(filter, verdict, color) {
    const svg = makeSVG("svg", { viewBox: "-2 -2 4 4", "aria-hidden": "true" });
    const path = "M" + shapes.outline(filter).map((p) => p.map((v) => v.toFixed(3)).join(",")).join("L") + "Z";
    svg.append(makeSVG("path", {
      d: path, stroke: color, "stroke-width": 0.4, fill: verdict === "keep" ? color : "none",
    }));
    if (verdict === "cull") {
      svg.append(makeSVG("path", { d: "M-1.5,-1.5L1.5,1.5M-1.5,1.5L1.5,-1.5", stroke: color, "stroke-width": 0.4 }));
    }
    return svg;
  },
};

function polygon(corners, turn, radius) {
  return Array.from({ length: corners }, (_, k) => {
    const angle = turn + (2 * Math.PI * k) / corners;
    return [radius * Math.cos(angle), radius * Math.sin(angle)];
  });
}
