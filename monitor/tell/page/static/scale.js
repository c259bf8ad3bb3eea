/* Scale: from figures to places on the paper and back. Pure. */

export const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

/* value -> place; both ways. */
export function linear(fromLow, fromHigh, toLow, toHigh) {
  const slope = (toHigh - toLow) / (fromHigh - fromLow || 1);
  const place = (value) => toLow + (value - fromLow) * slope;
  place.back = (at) => fromLow + (at - toLow) / (slope || 1);
  return place;
}

/* Round steps (1, 2, 5 × 10^n), about so many of them within. */
export function ticks(low, high, about) {
  const rough = (high - low) / Math.max(1, about);
  if (!(rough > 0)) return [];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((one) => one * power).find((one) => one >= rough * 0.999);
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k += 1) {
    found.push(Math.round(k * step * 1e6) / 1e6);
  }
  return found;
}

const STEPS_S = [1, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400, 21600, 43200];

/* Moments on round local times; beyond days, local midnights and first days of months. */
export function timeTicks(fromS, untilS, about) {
  const rough = (untilS - fromS) / Math.max(1, about);
  const step = STEPS_S.find((one) => one >= rough);
  if (step) return evenTicks(fromS, untilS, step);
  return rough > 12 * 86400 ? monthTicks(fromS, untilS, rough) : dayTicks(fromS, untilS, rough);
}

function evenTicks(fromS, untilS, step) {
  const at = new Date(fromS * 1000);
  at.setHours(0, 0, 0, 0);
  const midnight = at.getTime() / 1000;
  const found = [];
  for (let t = midnight + Math.ceil((fromS - midnight) / step) * step; t <= untilS; t += step) found.push(t);
  return found;
}

function dayTicks(fromS, untilS, rough) {
  const every = [1, 2, 7, 14].find((one) => one * 86400 >= rough) || 14;
  const at = new Date(fromS * 1000);
  at.setHours(0, 0, 0, 0);
  const found = [];
  for (; at.getTime() / 1000 <= untilS; at.setDate(at.getDate() + every)) {
    if (at.getTime() / 1000 >= fromS) found.push(at.getTime() / 1000);
  }
  return found;
}

function monthTicks(fromS, untilS, rough) {
  const every = [1, 2, 3, 6, 12].find((one) => one * 30.4 * 86400 >= rough) || 12;
  const at = new Date(fromS * 1000);
  at.setHours(0, 0, 0, 0);
  at.setDate(1);
  const found = [];
  for (; at.getTime() / 1000 <= untilS; at.setMonth(at.getMonth() + every)) {
    if (at.getTime() / 1000 >= fromS) found.push(at.getTime() / 1000);
  }
  return found;
}

/* The span of DP worth showing: the set points and the readings with some air, within what the gauge can measure. */
export function worthShowing(card, low, high) {
  const marks = (card.bands || []).map((band) => band.setpoint);
  const { start, stop } = card.cleaning || {};
  const all = [...marks, start, stop, low, high, card.dp?.value].filter((one) => Number.isFinite(one));
  const scale = card.scale || { low: 0, high: 10 };
  if (!all.length) return { low: scale.low, high: scale.high };
  const top = Math.max(...all);
  const bottom = Math.min(0, ...all);
  const air = (top - bottom || 1) * 0.1;
  return { low: Math.max(Math.min(scale.low, bottom), bottom - air * 0.5), high: top + air };
}

/* Labels that would lie on each other are pushed apart, in order; each is {at, ...}. */
export function pushApart(labels, gap, low, high) {
  const sorted = [...labels].sort((a, b) => a.at - b.at).map((one) => ({ ...one, put: one.at }));
  sorted.forEach((one, k) => {
    one.put = Math.max(one.put, low, k ? sorted[k - 1].put + gap : low);
  });
  for (let k = sorted.length - 1; k >= 0; k -= 1) {
    const most = k === sorted.length - 1 ? high : sorted[k + 1].put - gap;
    sorted[k].put = Math.min(sorted[k].put, most);
  }
  return sorted;
}

/* At most so many rows [t, low, high, last, quality]: neighbours are joined, the worst quality wins. */
export function thin(rows, most) {
  if (rows.length <= most) return rows;
  const each = Math.ceil(rows.length / most);
  const found = [];
  for (let k = 0; k < rows.length; k += each) found.push(join(rows.slice(k, k + each)));
  return found;
}

function join(rows) {
  const known = (place) => rows.map((row) => row[place]).filter((one) => one !== null);
  const lows = known(1);
  const highs = known(2);
  const lasts = known(3);
  return [
    rows[0][0],
    lows.length ? Math.min(...lows) : null,
    highs.length ? Math.max(...highs) : null,
    lasts.length ? lasts[lasts.length - 1] : null,
    Math.max(...rows.map((row) => row[4])),
  ];
}
