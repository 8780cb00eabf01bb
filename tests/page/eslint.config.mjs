import js from "@eslint/js";
import globals from "globals";

// The page's scripts are joined into one: what an earlier one names, a later one uses.
const joined = { Module: "readonly", Page: "readonly", Bench: "readonly", Meters: "readonly", Sound: "readonly" };
const rules = {
  eqeqeq: "error",
  "no-var": "error",
  "prefer-const": "error",
  "no-eval": "error",
  "no-implied-eval": "error",
  "no-unused-vars": ["error", { varsIgnorePattern: "^(Module|Page|Bench|Meters|Sound)$" }],
};

export default [
  { ignores: ["**/node_modules/", "shots/"] },
  js.configs.recommended,
  {
    files: ["**/sim-cli/live/page/*.js"],
    languageOptions: { sourceType: "script", globals: { ...globals.browser, ...joined } },
    rules: { ...rules, "no-redeclare": ["error", { builtinGlobals: false }] },
  },
  { files: ["**/*.mjs"], languageOptions: { globals: { ...globals.node, ...globals.browser } }, rules },
];
