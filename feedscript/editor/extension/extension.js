// Starts `feedscript language-server` and lets the editor talk to it; everything else is there.
const { workspace } = require("vscode");
const { LanguageClient } = require("vscode-languageclient/node");

let client;

exports.activate = function () {
  const command = workspace.getConfiguration("feedscript").get("command");
  client = new LanguageClient(
    "feedscript",
    "feedscript",
    { command, args: ["language-server"] },
    { documentSelector: [{ language: "feedscript" }] },
  );
  return client.start();
};

exports.deactivate = function () {
  return client && client.stop();
};
