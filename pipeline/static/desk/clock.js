// The clock of a run, the same function as in the server's own clock: what was pressed and the
// present moment in, the run out. Moments and spans are milliseconds; steps are counted from 0.
// The hour runs from the start without a stop; a pause stops the step, not the hour.

const MINUTE = 60_000;
const MAY_GO = 2;

export function unstarted(steps, booked) {
  return {
    planned: [...steps], given: [...steps], spent: steps.map(() => 0), booked,
    state: "ready", step: 0, startedAt: null, seenAt: null, pressedAt: null,
  };
}

export function until(clock, at) {
  if (clock.seenAt === null || clock.state === "ended" || at <= clock.seenAt) return clock;
  const spent = [...clock.spent];
  if (clock.state === "running" && spent.length) spent[clock.step] += at - clock.seenAt;
  return { ...clock, spent, seenAt: at };
}

export function allows(clock, kind, step = null) {
  const underWay = clock.state === "running" || clock.state === "paused";
  switch (kind) {
    case "start": return clock.state === "ready" || clock.state === "ended";
    case "pause": return clock.state === "running";
    case "resume": return clock.state === "paused" || clock.state === "ended";
    case "next": return underWay && clock.step + 1 < clock.given.length;
    case "back": return underWay && clock.step > 0;
    case "add": return step !== null && step >= 0 && step < clock.given.length && clock.state !== "ended";
    case "end": return underWay;
  }
  return false;
}

export function after(before, press) {
  if (!allows(before, press.kind, press.step)) return before;
  const at = press.at;
  const clock = { ...until(before, at), pressedAt: at };
  switch (press.kind) {
    case "start": {
      const fresh = before.state === "ready" ? before : unstarted(before.planned, before.booked);
      return { ...fresh, state: "running", startedAt: at, seenAt: at, pressedAt: at };
    }
    case "pause": return { ...clock, state: "paused" };
    case "resume": return { ...clock, state: "running", seenAt: at };
    case "next": return { ...clock, step: clock.step + 1 };
    case "back": return { ...clock, step: clock.step - 1 };
    case "add": {
      const given = [...clock.given];
      given[press.step] = Math.max(given[press.step] + press.minutes, 0);
      return { ...clock, given };
    }
  }
  return { ...clock, state: "ended" };
}

// A press that the server has not acknowledged says in `from` which step was in hand; like the
// server, the clock passes it over when that is no longer so.
export function clockAt(now, steps, booked, presses) {
  let clock = unstarted(steps, booked);
  for (const press of presses) {
    if (press.from !== undefined && press.from !== clock.step) continue;
    clock = after(clock, { ...press, at: Math.max(press.at, clock.pressedAt ?? press.at) });
  }
  return until(clock, now);
}

export const leftOf = (clock, step) => clock.given[step] * MINUTE - clock.spent[step];
export const stepLeft = (clock) => (clock.given.length ? leftOf(clock, clock.step) : 0);

export function hourLeft(clock) {
  const taken = clock.startedAt === null ? 0 : clock.seenAt - clock.startedAt;
  return clock.booked * MINUTE - taken;
}

export function slack(clock) {
  let left = hourLeft(clock);
  for (let step = clock.step; step < clock.given.length; step += 1) left -= Math.max(leftOf(clock, step), 0);
  return left;
}

// Which later steps to shorten, as [step, minutes]: the longest first, of two alike the later.
export function shorter(clock) {
  let missing = -Math.floor(slack(clock) / MINUTE);
  if (!["running", "paused"].includes(clock.state) || missing <= 0) return [];
  const later = clock.given.map((_, step) => step).filter((step) => step > clock.step);
  later.sort((a, b) => leftOf(clock, b) - leftOf(clock, a) || b - a);
  const found = [];
  for (const step of later) {
    const gives = Math.min(missing, Math.floor(Math.floor(leftOf(clock, step) / MINUTE) / MAY_GO));
    if (gives <= 0) break;
    found.push([step, gives]);
    missing -= gives;
  }
  return found;
}

export function onAClock(span) {
  const seconds = Math.floor(Math.abs(span) / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
