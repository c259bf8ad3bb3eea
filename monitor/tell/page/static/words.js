/* Words: how figures, moments and states are said. Pure: no page, no network, no clock. */

export const PRIORITIES = ["urgent", "high", "medium", "low", "advisory"];

export const STATE_WORDS = {
  normal: "Normal",
  alarm: "Alarm",
  waiting: "Wants a look",
  held: "Held back",
  blind: "No reading",
  out_of_service: "Out of service",
};

/* ISA-18.2 names as a night shift says them. */
export const ALARM_WORDS = {
  normal: "normal",
  unacknowledged: "not acknowledged",
  acknowledged: "acknowledged, still there",
  returned_unacknowledged: "gone again, not acknowledged",
  latched_unacknowledged: "gone again, kept until somebody acknowledges it",
  latched_acknowledged: "gone again, kept until somebody clears it",
  shelved: "shelved",
  suppressed_by_design: "held back by design",
  out_of_service: "out of service",
};

const REASONS = {
  not_yet_read: "not read yet",
  no_connection: "no connection to the device",
  no_answer: "the device does not answer",
  exception_code: "the device refuses to answer",
  malformed_reply: "the device answers nonsense",
  loop_below_measuring: "loop current below the measuring range",
  loop_above_measuring: "loop current above the measuring range",
  loop_saturated: "loop current at its limit",
  loop_failed_low: "the transmitter reports a failure",
  loop_failed_high: "the transmitter reports a failure",
  out_of_range: "out of range",
  not_a_number: "the device sends no number",
  stale: "too old",
  frozen: "has not moved for too long",
};

const HAPPENED = {
  raised: "Alarm",
  returned: "Back to normal",
  latched: "Back to normal, kept",
  acknowledged: "Acknowledged",
  cleared: "Cleared",
  unlatched: "Cleared",
  shelved: "Shelved",
  unshelved: "Unshelved",
  suppressed: "Held back",
  released: "No longer held",
  filters_changed: "New filters",
  filters_noticed: "New filters noticed",
};

export const capital = (text) => (text ? text[0].toUpperCase() + text.slice(1) : "");

export const spaced = (word) => String(word ?? "").replaceAll("_", " ");

export const priorityWord = (priority) => capital(priority || "");

export const happenedWord = (happened) => HAPPENED[happened] || capital(spaced(happened));

/* Two decimals up to 10, one above: about what a transmitter can tell. */
export function figure(value) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const digits = Math.abs(value) < 9.995 ? 2 : Math.abs(value) < 999.5 ? 1 : 0;
  return value.toFixed(digits).replace("-", "−");
}

export function short(value) {
  return value === null || value === undefined ? "–" : String(Math.round(value * 100) / 100).replace("-", "−");
}

export const UNIT = { inH2O: "inH₂O", ft3: "ft³" };

export const unitWord = (unit) => UNIT[unit] || unit || "";

/* Marks of units and moments in whole sentences of the server, as in the rest of the page: its moments are UTC. */
export const typeset = (text) =>
  String(text ?? "")
    .replace(/inH2O/g, "inH₂O")
    .replace(/ft3/g, "ft³")
    .replace(/(\d{4}-\d\d-\d\d) (\d\d:\d\d:\d\d) UTC/g, (_, date, time) => {
      const utcS = Date.parse(`${date}T${time}Z`) / 1000;
      return `${day(utcS)} ${clock(utcS)}`;
    });

export function qualityWords(dp) {
  if (!dp || dp.quality === "good") return "";
  const why = REASONS[dp.reason] || spaced(dp.reason === "none" ? "" : dp.reason);
  const head = dp.quality === "bad" ? "No reading" : "Uncertain";
  return why ? `${head}: ${why}` : head;
}

const two = (number) => String(number).padStart(2, "0");

export const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

export const seconds = (stamp) => (typeof stamp === "number" ? stamp : stamp ? Date.parse(stamp) / 1000 : null);

/* 14:02:11 in the browser's own zone. */
export function clock(utcS, withSeconds = true) {
  if (utcS === null || utcS === undefined) return "–";
  const at = new Date(utcS * 1000);
  return `${two(at.getHours())}:${two(at.getMinutes())}${withSeconds ? `:${two(at.getSeconds())}` : ""}`;
}

export function day(utcS, withYear = false) {
  const at = new Date(utcS * 1000);
  return `${at.getDate()} ${MONTHS[at.getMonth()]}${withYear ? ` ${at.getFullYear()}` : ""}`;
}

/* The clock alone today; with the day else, and the year when it is another. */
export function moment(utcS, nowS, withSeconds = true) {
  if (utcS === null || utcS === undefined) return "–";
  const at = new Date(utcS * 1000);
  const now = new Date(nowS * 1000);
  const time = clock(utcS, withSeconds);
  if (at.toDateString() === now.toDateString()) return time;
  return `${day(utcS, at.getFullYear() !== now.getFullYear())} ${time}`;
}

/* How long, to two parts at most: 40 s, 12 min, 3 h 20 min, 5 d 2 h. */
export function length(s) {
  const whole = Math.max(0, Math.round(s));
  if (whole < 100) return `${whole} s`;
  const minutes = Math.round(whole / 60);
  if (minutes < 100) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 ? `${hours} h ${minutes % 60} min` : `${hours} h`;
  const days = Math.floor(hours / 24);
  return days < 10 && hours % 24 ? `${days} d ${hours % 24} h` : `${days} d`;
}

/* What the alarm is about, in a few words. */
export function alarmSubject(alarm) {
  switch (alarm.condition) {
    case "band":
      return `DP ${alarm.side} ${short(alarm.setpoint)} ${unitWord(alarm.unit)}`;
    case "early_warning":
      return capital(spaced(alarm.early_warning)) || "Early warning";
    case "link_lost":
      return "Link lost";
    case "nobody_reached":
      return "Nobody could be reached by phone";
    default:
      return "DP cannot be read";
  }
}

export const alarmPlace = (alarm) => alarm.collector || alarm.link || "";

export const isUnanswered = (alarm) =>
  ["unacknowledged", "returned_unacknowledged", "latched_unacknowledged"].includes(alarm.state);

export const isHeld = (alarm) => ["shelved", "suppressed_by_design", "out_of_service"].includes(alarm.state);

const HOLDS = {
  fan_stopped: "while the fan is stopped",
  start_up: "while it starts up",
  cleaning: "while it is cleaned",
  consequence: "as a consequence of",
};

/* How an alarm stands; of a held one who or what holds it, why and until when. */
export function standing(alarm, nowS) {
  if (alarm.state === "shelved" && alarm.shelved) {
    const { until, by, reason } = alarm.shelved;
    return `shelved until ${moment(seconds(until), nowS, false)} by ${by}: ${reason}`;
  }
  if (alarm.state === "out_of_service" && alarm.out_of_service) {
    const { since, by, reason } = alarm.out_of_service;
    return `out of service since ${moment(seconds(since), nowS, false)} by ${by}: ${reason}`;
  }
  if (alarm.state === "suppressed_by_design" && alarm.suppressed_by) {
    const { why, under } = alarm.suppressed_by;
    return `held back ${HOLDS[why] || `by design (${spaced(why)})`}${under ? ` ${under}` : ""}`;
  }
  return ALARM_WORDS[alarm.state] || spaced(alarm.state);
}

/* What a person may do with it now, the most likely first. */
export function actionsFor(alarm) {
  switch (alarm.state) {
    case "unacknowledged":
    case "returned_unacknowledged":
    case "latched_unacknowledged":
      return ["acknowledge", "shelve", "out_of_service"];
    case "latched_acknowledged":
      return ["clear", "shelve", "out_of_service"];
    case "shelved":
      return ["unshelve", "out_of_service"];
    case "out_of_service":
      return ["return_to_service"];
    default:
      return ["shelve", "out_of_service"];
  }
}
