// Wiring: loads the core and shows its version.
import { core } from "./core.js";

const { version } = await core();
document.querySelector("#version").textContent = version();
