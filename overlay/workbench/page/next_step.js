// What to do next is one button, and a step that is not possible yet says why.

import { $ } from "./dom.js";

// why a step is not possible yet; empty where it is
export function barred(bench, step) {
  if (step === "board") return "";
  if (!bench.session) return "There is no job yet: begin one first";
  if (!bench.model) return "The board cannot be read yet: mend the errors first";
  if (step === "shots") return "";
  if (!bench.captures.length) return "There is no capture yet: begin one first";
  return "";
}

export function next(bench) {
  if (!bench.session) return ["Begin a job", () => $("#start-form").requestSubmit()];
  const { form, former } = bench.steps.board.form;
  if (bench.step === "board" && form) return [former ? "Save the values" : "Begin the capture", () => form.requestSubmit()];
  if (bench.step === "shots" && (!bench.steps.shots.plan || bench.steps.shots.old)) return ["Plan the shots", () => bench.steps.shots.start()];
  if (barred(bench, "register")) return bench.model ? ["Begin a capture", () => bench.begin()] : ["Mend the errors", () => $("#check .error")?.scrollIntoView()];
  if (["board", "shots"].includes(bench.step)) {
    const open = unregistered(bench);
    return open ? [`Register “${open.name}”`, () => bench.register(open.name)] : ["Register the frame", () => bench.go("register")];
  }
  if (bench.step === "register") {
    const { state, finder } = bench.steps.register;
    if (finder.found) return [`Click on ${finder.found.ask}`, () => $("#frame").focus()];
    if (!state?.fit) {
      const byHand = finder.refused.has(bench.chosen) || state?.points.length;
      return byHand ? ["Place a point", () => $("#target").focus()] : ["Find the board", () => finder.start()];
    }
    const open = unregistered(bench);
    if (open) return [`Register “${open.name}”`, () => bench.choose(open.name)];
    return ["Read the board", () => { bench.go("read"); return bench.steps.read.start(); }];
  }
  const waiting = unregistered(bench);
  if (waiting && !bench.steps.read.result) return [`Register “${waiting.name}”`, () => bench.register(waiting.name)];
  if (bench.step === "look" && bench.steps.read.result && !bench.steps.read.old) return ["Back to the margins", () => bench.go("read")];
  if (bench.step === "look") return ["Read the board", () => { bench.go("read"); return bench.steps.read.start(); }];
  if (bench.steps.read.trying.before) return ["Back to what the files say", () => bench.steps.read.trying.back()];
  if (!bench.steps.read.result || bench.steps.read.old) return ["Read the board", () => bench.steps.read.start()];
  return ["Write reports", () => bench.steps.read.write()];
}

// the first capture that nobody has tied to the board yet
export function unregistered(bench) {
  return bench.captures.find((item) => item.shape && !item.points_file && !bench.unsaved.includes(item.name));
}
