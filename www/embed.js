// <stallheat-view>: a view of one day within any page. docs/embedding.md says how to use it.
//
//   <script src="https://…/embed.js" async></script>
//   <stallheat-view example="saturday_bracket_day" controls="cooler.ua" height="900"></stallheat-view>
//
// Works as a classic script and as a module, from any origin, and imports nothing: it keeps its address while all else
// moves with its content. The view is a sandboxed frame. What comes from it is taken only from that frame's window and
// origin, and only in the form that version 1 of the messages has. Styles go through constructed sheets and CSSOM,
// which the policy of the page around need not allow.
{
  const NAME = "stallheat-view";
  const VERSION = 1;
  const MOST_HEIGHT_PX = 20_000;
  const ANSWER_LIMIT_MS = 30_000;
  // What the frame's address is made of; a change loads the view anew, but for the day, which it opens.
  const QUERY = ["example", "units", "theme", "accent", "background", "controls", "show"];
  const SANDBOX = "allow-scripts allow-popups allow-popups-to-escape-sandbox";
  const NO_ADDRESS = "stallheat: the view’s own address is not known. Give the element a src with the address of the folder of embed.js.";
  const EVENTS = ["ready", "state", "result", "error"];

  // A module has no current script; its own tag is then told by its name.
  const tags = () => [...document.querySelectorAll("script[src]")].filter(({ src }) => /\/embed\.js(?:[?#]|$)/.test(src));
  const own = document.currentScript?.src ?? null;
  // The address of a sandboxed page has an origin that the page has not.
  const PAGE_ORIGIN = self.origin;
  const addressOfScript = () => {
    if (own) return own;
    const found = new Set(tags().map(({ src }) => src.split(/[?#]/)[0]));
    return found.size === 1 ? [...found][0] : null;
  };

  // A folder may be written without its last slash.
  const folderOf = (src) => {
    const address = new URL(src, document.baseURI);
    if (!/(?:\/|\.(?:js|html))$/.test(address.pathname)) address.pathname += "/";
    return address;
  };

  const sheet = () => {
    const made = new CSSStyleSheet();
    made.replaceSync(":host { display: block; width: -moz-available; width: -webkit-fill-available; width: stretch; } :host([hidden]) { display: none; } iframe { display: block; width: 100%; border: 0; } p { margin: 0; }");
    return made;
  };

  class StallheatView extends HTMLElement {
    static observedAttributes = [...QUERY, "day", "locked", "isolated", "height", "label", "src"];

    #root = this.attachShadow({ mode: "open" });
    #frame = null;
    #shown = null; // the address that the frame was given last
    #origin = null; // of the frame, as its messages state it
    #ready = false;
    #loading = false; // until the frame has loaded what it was given, however slow the network
    #next = 1;
    #waiting = new Map(); // id → { message, sent, done, fail, timer }
    #due = false;
    #anew = false;
    #told = false; // whether the view in the frame has told its height
    #hear = (event) => this.#heard(event);

    constructor() {
      super();
      this.#root.adoptedStyleSheets = [sheet()];
    }

    connectedCallback() {
      addEventListener("message", this.#hear);
      this.#make();
    }

    disconnectedCallback() {
      removeEventListener("message", this.#hear);
      this.#drop("The view was removed from the page.");
      this.#frame?.remove();
      this.#frame = null;
    }

    attributeChangedCallback(name, before, after) {
      if (before === after || !this.isConnected) return;
      if (name === "height") {
        // Only until the view has told its own.
        if (!this.#told) this.#size(this.#fallback());
      } else if (name === "label") this.#title();
      else {
        // Several attributes set in a row are one change; any of them may ask for another frame.
        this.#anew ||= name === "isolated" || name === "src";
        if (this.#due) return;
        this.#due = true;
        queueMicrotask(() => this.#follow());
      }
    }

    #follow() {
      if (!this.#due) return;
      const anew = this.#anew;
      this.#due = this.#anew = false;
      if (this.isConnected) this.#make(anew);
    }

    /** Sets { parameters: { path: text }, scenario, units } or some of these; resolves with the state that holds then. */
    set(wanted) {
      // What is undefined is not stated.
      return this.#ask("set", Object.fromEntries(Object.entries({ ...wanted }).filter(([, value]) => value !== undefined)));
    }

    /** Brings back the day as it was opened; resolves with the state that holds then. */
    reset() {
      return this.#ask("reset", {});
    }

    /** The address of the view, or null where the script does not know where it comes from. */
    #address() {
      const src = this.getAttribute("src");
      const from = src ?? addressOfScript();
      if (!from) return null;
      let address;
      try {
        address = new URL("embed.html", src ? folderOf(src) : new URL(from, document.baseURI));
      } catch {
        return null;
      }
      if (!/^https?:$/.test(address.protocol)) return null;
      for (const name of QUERY) if (this.hasAttribute(name)) address.searchParams.set(name, this.getAttribute(name));
      if (this.hasAttribute("locked") && this.getAttribute("locked") !== "0") address.searchParams.set("locked", "1");
      // A page without an origin of its own, such as a file, can only look on.
      if (/^https?:/.test(PAGE_ORIGIN)) address.searchParams.set("origin", PAGE_ORIGIN);
      // A whole link to the full page will do as well.
      const day = this.getAttribute("day") ?? "";
      if (day) address.hash = day.slice(day.indexOf("#") + 1);
      return address;
    }

    #make(anew = false) {
      const address = this.#address();
      if (!address) {
        const said = document.createElement("p");
        said.textContent = NO_ADDRESS;
        this.#drop(NO_ADDRESS);
        this.#frame = null;
        this.#root.replaceChildren(said);
        return;
      }
      const isolated = this.hasAttribute("isolated");
      if (this.#frame && !anew) {
        const [old, next] = [this.#shown, address.href];
        if (old === next) return;
        this.#shown = next;
        // In the place of the old one: no step for the reader's way back. What has not loaded yet has no step.
        if (this.#ready) this.#frame.contentWindow.location.replace(next);
        else this.#frame.src = next;
        // Where only the day is another, the view opens it; else it loads anew.
        if (old.split("#")[0] !== next.split("#")[0] || !address.hash) {
          this.#drop("The view is loaded anew.");
          this.#loading = true;
        }
        return;
      }
      this.#drop("The view is loaded anew.");
      const frame = document.createElement("iframe");
      // A frame of the page's own origin could take such a sandbox off again, and browsers warn of it.
      if (isolated) frame.setAttribute("sandbox", SANDBOX);
      else if (address.origin !== PAGE_ORIGIN) frame.setAttribute("sandbox", `${SANDBOX} allow-same-origin`);
      frame.setAttribute("allow", "clipboard-write");
      frame.setAttribute("loading", this.#waiting.size > 0 ? "eager" : "lazy");
      frame.setAttribute("referrerpolicy", "no-referrer");
      frame.addEventListener("load", () => {
        if (frame !== this.#frame) return;
        this.#loading = false;
        for (const id of this.#waiting.keys()) this.#time(id);
      });
      frame.src = this.#shown = address.href;
      this.#frame = frame;
      this.#loading = true;
      this.#origin = isolated ? "null" : address.origin;
      this.#title();
      this.#told = false;
      this.#size(this.#fallback());
      this.#root.replaceChildren(frame);
    }

    #title() {
      if (this.#frame) this.#frame.title = this.getAttribute("label") || "stallheat: heat of a race transmission through one day";
    }

    #fallback() {
      const [, stated] = this.getAttribute("height")?.match(/^\s*(\d+(?:\.\d+)?)\s*(?:px)?\s*$/i) ?? [];
      return Number(stated) > 0 ? Number(stated) : 900;
    }

    #size(height_px) {
      this.#frame?.style.setProperty("height", `${Math.min(MOST_HEIGHT_PX, Math.max(1, Math.ceil(height_px)))}px`);
    }

    #ask(type, content) {
      // Attributes changed just now hold before what is asked.
      this.#follow();
      const id = this.#next;
      this.#next += 1;
      return new Promise((done, fail) => {
        if (!/^https?:/.test(PAGE_ORIGIN)) {
          fail(new Error("A page without an origin of its own, such as a file, cannot set the view."));
          return;
        }
        if (this.isConnected && !this.#frame) {
          fail(new Error(NO_ADDRESS));
          return;
        }
        this.#waiting.set(id, { message: { ...content, stallheat: VERSION, id, type }, sent: false, done, fail, timer: null });
        // One that is further down, or hidden, would else not load before it is seen.
        this.#frame?.setAttribute("loading", "eager");
        if (!this.#frame || !this.#loading) this.#time(id);
        this.#send();
      });
    }

    #send() {
      if (!this.#ready) return;
      // An isolated frame has no origin that could be named; that the window is the view's is known.
      const target = this.#origin === "null" ? "*" : this.#origin;
      for (const [id, one] of this.#waiting) {
        if (one.sent) continue;
        one.sent = true;
        try {
          this.#frame.contentWindow.postMessage(one.message, target);
        } catch (error) {
          this.#settle(id, "fail", error);
        }
      }
    }

    #time(id) {
      this.#waiting.get(id).timer ??= setTimeout(() => this.#settle(id, "fail", new Error("The view does not answer.")), ANSWER_LIMIT_MS);
    }

    #settle(id, how, what) {
      const one = this.#waiting.get(id);
      if (!one) return;
      this.#waiting.delete(id);
      clearTimeout(one.timer);
      one[how](what);
    }

    /** What was asked of a view that is no more gets no answer; what it has not been asked yet waits for the next. */
    #drop(why) {
      this.#ready = false;
      for (const [id, { sent }] of [...this.#waiting]) if (sent || !this.isConnected) this.#settle(id, "fail", new Error(why));
    }

    #heard({ source, origin, data }) {
      if (!this.#frame || source !== this.#frame.contentWindow) return;
      // What stands in a sandboxed page is sandboxed, too.
      if (origin !== this.#origin && !(origin === "null" && PAGE_ORIGIN === "null")) return;
      if (data === null || typeof data !== "object" || data.stallheat !== VERSION) return;
      const { type, height_px } = data;
      if (type === "height") {
        if (Number.isFinite(height_px) && height_px > 0) {
          this.#told = true;
          this.#size(height_px);
        }
        return;
      }
      if (!EVENTS.includes(type)) return;
      if (type === "ready") {
        this.#drop("The view was loaded anew.");
        this.#ready = true;
        for (const id of this.#waiting.keys()) this.#time(id);
        this.#send();
      }
      for (const id of Array.isArray(data.reply_to) ? data.reply_to : []) {
        if (type === "state") this.#settle(id, "done", data);
        if (type === "error") this.#settle(id, "fail", Object.assign(new Error(String(data.message)), { field: data.field, value: data.value, limit: data.limit, remedy: data.remedy }));
      }
      this.dispatchEvent(new CustomEvent(`stallheat-${type}`, { detail: data }));
    }
  }

  if (!customElements.get(NAME)) customElements.define(NAME, StallheatView);
}
