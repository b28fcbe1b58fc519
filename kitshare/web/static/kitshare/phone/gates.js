// Why a part keeps a kit from going out. The same rule as kitshare/rules/checklists.py; a test holds the two together.
const NEEDED = ["vital", "guard"];

export function stopReason({ kind, expected, count, condition, spare }) {
  if (!NEEDED.includes(kind) || spare) return null;
  if (condition === "missing") return "missing";
  if (condition === "damaged") return "damaged";
  return count < expected ? "short" : null;
}
