import js from "@eslint/js";

export default [
  js.configs.recommended,
  {
    languageOptions: { ecmaVersion: 2022, sourceType: "module" },
    rules: {
      // The type checker knows every name; the linter would need a list of the browser's.
      "no-undef": "off",
      complexity: ["error", 10],
      eqeqeq: "error",
      "max-lines": ["error", 300],
      "max-lines-per-function": ["error", { max: 60, skipBlankLines: true, skipComments: true }],
      "no-eval": "error",
      "no-implied-eval": "error",
      "no-restricted-properties": [
        "error",
        ...["innerHTML", "outerHTML", "insertAdjacentHTML"].map((property) => ({
          property,
          message: "Names and texts never become markup: make elements with dom.js.",
        })),
      ],
      "no-var": "error",
      "prefer-const": "error",
    },
  },
];
