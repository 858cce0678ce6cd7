// The access token, asked for once on each machine.

import { dress } from "/page/dress.js";
import { $ } from "/page/nodes.js";
import { Refusal, post } from "/page/service.js";
import { say } from "/page/texts.js";

async function enter(event) {
  event.preventDefault();
  try {
    await post("/enter", { token: $("token").value.trim() });
    location.replace("/");
  } catch (problem) {
    const isSlow = problem instanceof Refusal && problem.status === 429;
    $("no").textContent = say(isSlow ? "enter.slow" : "enter.wrong");
    $("token").focus();
  }
}

$("enter").addEventListener("submit", enter);
await dress("");
document.title = `Counterfoil: ${say("enter.title")}`;
$("token").focus();
document.body.dataset.ready = "yes";
