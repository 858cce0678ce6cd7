// Language and theme, chosen with the same controls on every page.

import { LANGUAGES, keep, kept, load, preferred } from "./texts.js";

export async function setPreferences(started, onChange = () => {}) {
  const theme = new URLSearchParams(location.search).get("theme") || kept("theme") || "auto";
  setTheme(theme);
  for (const button of document.querySelectorAll("[data-language]")) {
    button.addEventListener("click", async () => {
      keep("language", button.dataset.language);
      await speak(button.dataset.language);
      onChange();
    });
  }
  for (const button of document.querySelectorAll("[data-theme-choice]")) {
    button.addEventListener("click", () => {
      keep("theme", button.dataset.themeChoice);
      setTheme(button.dataset.themeChoice);
    });
  }
  await speak(preferred(started));
}

async function speak(language) {
  await load(LANGUAGES.includes(language) ? language : "en");
  for (const button of document.querySelectorAll("[data-language]")) {
    button.setAttribute("aria-pressed", String(button.dataset.language === language));
  }
}

function setTheme(theme) {
  if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
  else delete document.documentElement.dataset.theme;
  for (const button of document.querySelectorAll("[data-theme-choice]")) {
    button.setAttribute("aria-pressed", String(button.dataset.themeChoice === theme));
  }
}
