// One part on the sheet, as it is ticked now, and what the rules say of it.
import { stopReason } from "./gates.js";
import { words } from "./words.js";

export const partsOf = (form) => [...form.querySelectorAll("[data-part]")];

export function seen(part) {
  const { name, prefix, kind, expected, usualCount: usual, usualCondition } = part.dataset;
  const pick = part.querySelector("[data-pick]:checked")?.dataset.pick ?? "none";
  const chosen = part.querySelector("[data-condition]:checked")?.value ?? "";
  const typed = part.querySelector("[data-usual]")?.value;
  const spare = Boolean(part.querySelector("[name$=-spare_fitted]")?.checked);
  const fact = { name, prefix, kind, pick, condition: chosen, expected: Number(expected) };
  if (pick === "all") return { ...fact, count: Number(usual), condition: usualCondition, spare: false };
  const one = chosen === "missing" ? 0 : 1;
  return { ...fact, count: typed === undefined ? one : Number(typed || (one ? usual : 0)), spare };
}

const isSeen = ({ pick, condition }) => pick === "all" || (pick === "other" && condition !== "");

// The parts because of which the kit does not go out, each with the reason in words.
export function stopsOf(form) {
  if (!("mayStop" in form.dataset)) return [];
  return partsOf(form)
    .map(seen)
    .filter(isSeen)
    .map((part) => ({ ...part, reason: stopReason(part) }))
    .filter((part) => part.reason)
    .map((part) => ({ ...part, words: words(`stop-${part.reason}`.replace(/-(.)/, (_, letter) => letter.toUpperCase()), { part: part.name }) }));
}

// What must be put right before the sheet can be signed, by the name of the field.
export function wrongParts(form, { allSeen }) {
  const wrong = {};
  for (const part of partsOf(form).map(seen)) {
    const said = (name) => words(name, { part: part.name });
    if (part.pick === "other" && !part.condition) wrong[`${part.prefix}-condition`] = said("sayHow");
    else if (!isSeen(part)) {
      if (allSeen) wrong[`${part.prefix}-seen`] = said("notSeen");
    } else if (!(part.count >= 0 && part.count <= 1000)) wrong[`${part.prefix}-count`] = said("badCount");
    else if (part.condition === "missing" && part.count > 0) wrong[`${part.prefix}-condition`] = said("missingButCounted");
    else if (part.condition !== "missing" && part.count === 0) wrong[`${part.prefix}-condition`] = said("noneSeen");
  }
  return wrong;
}
