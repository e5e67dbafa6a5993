// Writes a tree of so many sound programs of a repair shop for pumps and valves, each with its own thread, and
// their quantities. The same numbers every time.
// usage: node tree.cjs FOLDER COUNT
const fs = require("node:fs");
const path = require("node:path");

const [, , folder, count] = process.argv;
const parts = ["GLAND STUD", "PUMP SHAFT", "VALVE SPINDLE", "IMPELLER NUT", "SEAT RING", "PACKING SLEEVE"];
const threads = [[16, 2], [20, 2.5], [24, 3], [30, 2], [36, 3], [42, 3]];
const rows = ["program,parts_per_batch,batches_per_year,rate_per_hour,bottleneck,currency"];
for (let at = 0; at < Number(count); at += 1) {
  const [major, pitch] = threads[at % threads.length];
  const root = (major - 1.2269 * pitch).toFixed(3);
  const height = Math.round(613.4 * pitch);
  const first = 150 + 10 * (at % 31);
  const number = 1000 + at;
  const text = `%\nO${number} (${parts[at % parts.length]} ${at})\n(THREAD M${major}X${pitch}-6G)\nG21 G40 G99\nT0303\nG97 S${500 + 20 * (at % 13)} M3\n` +
    `G0 X${major + 4}. Z${4 * pitch}.\nG76 P021060 Q50 R0.05\nG76 X${root} Z-${20 + (at % 40)}. P${height} Q${first} F${pitch}\nG0 X100. Z100. M5\nM30\n%\n`;
  const name = `programs/${String(at % 50).padStart(2, "0")}/O${number}.nc`;
  fs.mkdirSync(path.dirname(path.join(folder, name)), { recursive: true });
  fs.writeFileSync(path.join(folder, name), text);
  if (at % 10 !== 0) rows.push(`O${number}.nc,${10 + (at % 7) * 30},${1 + (at % 12)},60,${at % 3 === 0},EUR`);
}
fs.writeFileSync(path.join(folder, "parts.csv"), rows.join("\n") + "\n");
