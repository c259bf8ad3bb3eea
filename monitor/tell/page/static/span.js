/* Span: which stretch of time a chart shows, and how it moves. Pure; moments in Unix seconds. */

import { clamp } from "./scale.js";

export const LEAST_S = 60;
export const MOST_S = 2 * 366 * 86400;
export const SPANS = [[900, "15 min"], [3600, "1 h"], [28800, "8 h"], [86400, "1 d"], [604800, "1 week"], [2629800, "1 month"], [31557600, "1 year"]];

/* The last so many seconds. */
export const latest = (spanS, nowS) => ({ from: nowS - spanS, until: nowS, follows: true });

/* Nearer (factor < 1) or farther about one moment; what reaches now follows it. */
export function zoom(view, factor, aboutS, nowS) {
  const span = view.until - view.from;
  const next = clamp(span * factor, LEAST_S, MOST_S);
  if (view.follows && aboutS > view.until - span * 0.1) return latest(next, nowS);
  const share = (aboutS - view.from) / span;
  return within({ from: aboutS - next * share, until: aboutS + next * (1 - share) }, nowS);
}

export const pan = (view, byS, nowS) => within({ from: view.from + byS, until: view.until + byS }, nowS);

function within({ from, until }, nowS) {
  const over = Math.max(0, until - nowS);
  return { from: from - over, until: until - over, follows: over > 0 || nowS - until < (until - from) * 0.01 };
}

/* The row that covers a moment, or the nearest one before it by no more than one step; null in a gap. */
export function rowAt(rows, at, stepS) {
  let low = 0;
  let high = rows.length - 1;
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if (rows[mid][0] <= at) low = mid;
    else high = mid - 1;
  }
  const row = rows[low];
  return row && at >= row[0] - stepS * 0.5 && at <= row[0] + stepS * 1.5 ? row : null;
}
