// What the page adds when it may run script: texts that change arrive as events, charts are drawn anew when
// there are new points, and a sound calls for a hand. Without it everything is there too, by loading again.
"use strict";
(() => {
  const link = document.getElementById("link");
  const main = document.getElementById("main");
  let hands = new Map();
  let stands = new Map();
  const over = (stand) => stand === "done" || stand === "stopped";
  let turned = false;
  let drawing = false;

  // --- what was looked at is what is started ---
  const wish = document.querySelector('form[action^="/gauge-on#"]');
  const begin = document.querySelector('form[action="/gauge-on/start"]');
  if (wish && begin) {
    const shown = new URLSearchParams(new FormData(wish)).toString();
    const compare = () => {
      const changed = new URLSearchParams(new FormData(wish)).toString() !== shown;
      for (const one of begin.querySelectorAll("button")) one.disabled = changed;
      document.querySelector("[data-look-again]").hidden = !changed;
    };
    wish.addEventListener("input", compare);
    wish.addEventListener("change", compare);
  }

  // --- the next scan goes where it belongs: no screen keyboard comes up for that ---
  const next = document.querySelector('[action^="/gauge-on#"] [data-scan]');
  if (next && next.value && window.matchMedia("(pointer: fine)").matches) {
    next.focus({ preventScroll: true });
    next.select();
  }

  // --- sound and vibration, switched on by the person once ---
  const button = document.querySelector("[data-sound]");
  let audio = null;
  const wanted = () => { try { return localStorage.getItem("sound") === "on"; } catch { return false; } };
  const show = () => button && button.setAttribute("aria-pressed", String(wanted()));
  const wake = () => { if (!audio && window.AudioContext) audio = new AudioContext(); if (audio) audio.resume(); };
  if (button) {
    button.parentElement.hidden = false;
    show();
    button.addEventListener("click", () => {
      try { localStorage.setItem("sound", wanted() ? "off" : "on"); } catch { /* private window: for now only */ }
      wake();
      show();
      if (wanted()) call(660);
    });
    document.addEventListener("pointerdown", () => { if (wanted()) wake(); }, { once: true });
  }
  function call(hertz) {
    if (!wanted()) return;
    if (navigator.vibrate) navigator.vibrate([300, 150, 300]);
    if (!audio) return;
    const tone = audio.createOscillator();
    const level = audio.createGain();
    tone.frequency.value = hertz;
    level.gain.value = 0.2;
    tone.connect(level).connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + 0.6);
  }

  // --- texts that change ---
  function put(key, text) {
    for (const place of document.querySelectorAll(`[data-k="${key}"]`)) {
      if (place.tagName === "PROGRESS") place.value = Number(text);
      else if (place.textContent !== text) place.textContent = text;
    }
    for (const tile of document.querySelectorAll(`[data-k-stand="${key}"]`)) tile.dataset.stand = text;
    if (key.endsWith(".changes") && document.querySelector(`[data-k-changes="${key}"]`)) redraw();
    if (key.endsWith(".hand")) {
      if (text && hands.get(key) !== text) call(880);
      const before = hands.get(key) || "";
      hands.set(key, text);
      if (before !== text) needed();
    }
    if (key.endsWith(".stand")) {
      const before = stands.get(key);
      if (before === "running" && text === "done") call(520);
      // A run that has ended offers what is next in place of its stop.
      if (before !== undefined && over(before) !== over(text)) turned = true;
      stands.set(key, text);
    }
  }
  function needed() {
    const list = document.querySelector("[data-now]");
    if (!list) return;
    const items = [];
    for (const tile of document.querySelectorAll(".tile")) {
      const text = tile.querySelector(".hand").textContent.trim();
      if (!text) continue;
      const item = document.createElement("li");
      if (tile.dataset.stand === "hand") item.className = "urgent";
      const name = document.createElement("strong");
      name.textContent = tile.querySelector("h2").textContent;
      item.append(name, " " + text);
      items.push(item);
    }
    list.replaceChildren(...items);
    document.querySelector(".now .nothing").hidden = items.length > 0;
  }
  async function part(path, selector) {
    const answer = await fetch(path, { headers: { "X-Part": "1" } });
    if (!answer.ok) return null;
    return new DOMParser().parseFromString(await answer.text(), "text/html").querySelector(selector);
  }
  async function redraw() {
    const pictures = document.querySelector("[data-pictures]");
    if (!pictures || drawing) return;
    drawing = true;
    try {
      const fresh = await part(pictures.dataset.from, "body");
      if (fresh) pictures.replaceChildren(...fresh.childNodes);
    } catch { /* the link line tells it */ }
    drawing = false;
  }
  async function reload() {
    // Somebody types or chooses: their work is not thrown away.
    if (main.querySelector("input:focus, select:focus, textarea:focus")) return;
    try {
      const fresh = await part(location.href, "main");
      if (fresh) main.replaceChildren(...fresh.childNodes);
    } catch { /* as above */ }
  }

  // --- what a closed list cuts off stands below it in full ---
  const pen = document.createElement("canvas").getContext("2d");
  function tellChosen() {
    for (const place of document.querySelectorAll("[data-chosen]")) {
      const list = place.parentElement.querySelector("select");
      const looks = getComputedStyle(list);
      const arrow = 24;
      pen.font = looks.font;
      place.textContent = list.selectedOptions.length ? list.selectedOptions[0].textContent : "";
      const room = list.clientWidth - parseFloat(looks.paddingLeft) - parseFloat(looks.paddingRight) - arrow;
      place.hidden = pen.measureText(place.textContent).width <= room;
    }
  }
  document.addEventListener("change", tellChosen);
  window.addEventListener("resize", tellChosen);
  tellChosen();

  // --- a serial number by the camera, where the browser reads codes ---
  const camera = document.querySelector("[data-camera]");
  if (camera && window.BarcodeDetector && navigator.mediaDevices) {
    camera.parentElement.hidden = false;
    camera.addEventListener("click", async () => {
      const video = document.createElement("video");
      video.className = "camera";
      video.playsInline = true;
      let stream = null;
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
        camera.parentElement.append(video);
        video.srcObject = stream;
        await video.play();
        const detector = new BarcodeDetector();
        for (let tries = 0; tries < 300; ++tries) {
          const [code] = await detector.detect(video);
          if (code) {
            document.querySelector("[data-scan]").value = code.rawValue;
            break;
          }
          await new Promise((done) => setTimeout(done, 100));
        }
      } catch { /* no camera, or not allowed: the number is typed */ }
      if (stream) for (const track of stream.getTracks()) track.stop();
      video.remove();
      document.querySelector("[data-scan]").focus();
    });
  }

  // --- field check: tips counted by a thumb; what cannot be sent waits on this device ---
  let sheet = null;
  const waiting = () => { try { return JSON.parse(localStorage.getItem("sheets") || "[]"); } catch { return []; } };
  const keep = (list) => { try { localStorage.setItem("sheets", JSON.stringify(list)); return true; } catch { return false; } };
  let sending = false;
  function tellWaiting(refused) {
    const place = document.querySelector("[data-waits]");
    const count = waiting().length;
    if (!place) return;
    place.hidden = count === 0;
    place.textContent = (refused ? place.dataset.refused : place.dataset.words).replace("{n}", count);
  }
  // The document that answers; null: the server does not.
  async function ask(path, options) {
    try {
      const answer = await fetch(path, options);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      return { status: answer.status, elsewhere: answer.redirected, page };
    } catch { return null; }
  }
  async function sendWaiting() {
    if (sending || waiting().length === 0) return null;
    sending = true;
    let shown = null;
    let refused = false;
    while (waiting().length > 0 && !refused) {
      // The word that goes into every form is another after each start of the server.
      const fresh = await ask("/field-check");
      const token = fresh && fresh.page.querySelector("[data-field-check] input[name=token]");
      if (!token) break;
      const next = waiting()[0];
      const body = new URLSearchParams({ ...next, token: token.value });
      const answer = await ask("/field-check", { method: "POST", body });
      if (!answer || answer.status >= 500) break;
      refused = answer.elsewhere || answer.status !== 200;
      // One that is wrong stands in the form again, with the reason; for one that needs a log-in it waits.
      if (refused && (answer.elsewhere || !answer.page.querySelector("[data-field-check]"))) break;
      keep(waiting().filter((one) => one.sheet !== next.sheet));
      shown = answer.page;
    }
    sending = false;
    tellWaiting(refused);
    return shown;
  }
  // Also of a form that came back with what is wrong.
  function takeSheet() {
    sheet = document.querySelector("[data-field-check]");
    if (!sheet) return;
    const tips = sheet.elements.tips;
    const more = document.querySelector("[data-count]");
    more.parentElement.hidden = false;
    more.addEventListener("click", () => {
      tips.value = String((Number(tips.value) || 0) + 1);
      if (navigator.vibrate) navigator.vibrate(40);
    });
    sheet.addEventListener("submit", async (event) => {
      const fields = Object.fromEntries(new FormData(sheet));
      delete fields.token;
      if (!fields.on) {
        const day = new Date();
        day.setMinutes(day.getMinutes() - day.getTimezoneOffset());
        fields.on = day.toISOString().slice(0, 10);
      }
      if (!keep([...waiting(), fields])) return;  // no room: sent as without script
      event.preventDefault();
      const shown = await sendWaiting();
      if (shown) {
        main.replaceChildren(...shown.querySelector("main").childNodes);
        takeSheet();
        main.focus();
        window.scrollTo(0, 0);
      } else {
        sheet.reset();
        tips.value = "";
        sheet.elements.sheet.value = `${Date.now()}-${Math.random()}`;
        window.scrollTo(0, 0);
      }
    });
  }
  takeSheet();
  if (waiting().length > 0 || sheet) {
    tellWaiting(false);
    window.addEventListener("online", sendWaiting);
    setInterval(sendWaiting, 10000);
    sendWaiting();
  }

  // --- the link ---
  if (document.querySelector("[data-k]") || document.body.dataset.screen === "going_on") {
    for (const tile of document.querySelectorAll(".tile")) stands.set(tile.dataset.kStand, tile.dataset.stand);
    const events = new EventSource("/events");
    let lost = false;
    events.addEventListener("texts", (event) => {
      for (const [key, text] of JSON.parse(event.data)) put(key, text);
      document.body.dataset.live = "1";
      if (turned) reload();
      turned = false;
    });
    events.addEventListener("runs", reload);
    events.addEventListener("open", () => { link.hidden = true; if (lost) reload(); lost = false; });
    events.addEventListener("error", () => { link.hidden = false; lost = true; });
    if (document.querySelector("[data-pictures]")) setInterval(() => { if (!document.hidden) redraw(); }, 3000);
  }
})();
