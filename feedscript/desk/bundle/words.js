// What the desk takes from CodeMirror; built into ../static/words.js by build.py.

export {
  autocompletion, closeBrackets, closeBracketsKeymap, completionKeymap,
} from "@codemirror/autocomplete";
export { defaultKeymap, history, historyKeymap, indentWithTab, undo, redo } from "@codemirror/commands";
export { bracketMatching, codeFolding, foldGutter, foldKeymap, foldService, indentUnit } from "@codemirror/language";
export { forEachDiagnostic, lintGutter, lintKeymap, setDiagnostics } from "@codemirror/lint";
export {
  LSPClient, LSPPlugin, formatDocument, formatKeymap, findReferencesKeymap, hoverTooltips,
  jumpToDefinitionKeymap, renameKeymap, serverCompletion,
} from "@codemirror/lsp-client";
export { unifiedMergeView } from "@codemirror/merge";
export { highlightSelectionMatches, searchKeymap } from "@codemirror/search";
export { Compartment, EditorSelection, EditorState, Prec, RangeSetBuilder, StateEffect, StateField, Transaction } from "@codemirror/state";
export {
  Decoration, EditorView, ViewPlugin, WidgetType, crosshairCursor, drawSelection, dropCursor, gutter,
  highlightActiveLine, highlightActiveLineGutter, highlightSpecialChars, hoverTooltip, keymap,
  lineNumbers, rectangularSelection,
} from "@codemirror/view";
