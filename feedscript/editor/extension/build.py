"""Builds the extension for editors that take a .vsix: ``make vsix``, or ``python -m`` this module.

One file: the client of the language server with the packages that it needs, in the versions of
``package-lock.json``, the colouring, and all licences. The form is the Open Packaging Conventions'
(ECMA-376, part 2): a zip whose ``[Content_Types].xml`` says what is in it.
"""

from __future__ import annotations

import json
import tempfile
import zipfile
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import feedscript
from feedscript.bundled import bundle

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
FILE = ROOT / "out" / "feedscript.vsix"
#: What stands in the extension as it stands here, or at the top of the repository.
AS_THEY_ARE = (
    HERE / "README.md",
    HERE / "language-configuration.json",
    HERE / "syntaxes" / "feedscript.tmLanguage.json",
    ROOT / "LICENSE",
)
HOW = ("--platform=node", "--format=cjs", "--target=node20", "--external:vscode")
TYPES = {"js": "application/javascript", "json": "application/json", "md": "text/markdown"}
TYPES |= {"txt": "text/plain", "vsixmanifest": "text/xml"}
ASSETS = {
    "Code.Manifest": "package.json",
    "Services.Content.Details": "README.md",
    "Services.Content.License": "LICENSE.txt",
}
#: What only building needs to know.
NOT_IN_IT = ("dependencies", "devDependencies", "private")
#: The same for every build, so that the same sources make the same file.
WRITTEN = (2026, 1, 1, 0, 0, 0)


def build(file: Path) -> None:
    """Write the .vsix. Raises OSError or CalledProcessError."""
    package = json.loads((HERE / "package.json").read_text("utf-8"))
    with tempfile.TemporaryDirectory() as temporary:
        bundled = Path(temporary) / "extension.js"
        licences = bundle(HERE, "extension.js", HOW, bundled)
        parts = {
            "[Content_Types].xml": _content_types().encode(),
            "extension.vsixmanifest": _manifest(package).encode(),
            "extension/package.json": _package_json(package).encode(),
            "extension/extension.js": bundled.read_bytes(),
            "extension/LICENCES.txt": licences.encode(),
        }
    for path in AS_THEY_ARE:
        inside = path.relative_to(HERE) if path.is_relative_to(HERE) else Path(f"{path.name}.txt")
        parts[f"extension/{inside.as_posix()}"] = path.read_bytes()
    with zipfile.ZipFile(file, "w") as archive:
        for name, content in parts.items():
            about = zipfile.ZipInfo(name, WRITTEN)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.external_attr = 0o644 << 16
            archive.writestr(about, content)


def _package_json(package: dict[str, Any]) -> str:
    """As it stands here, less what was only needed to build; the version is feedscript's own."""
    kept = {k: v for k, v in package.items() if k not in NOT_IN_IT}
    return json.dumps(kept | {"version": feedscript.__version__}, indent=2) + "\n"


def _content_types() -> str:
    rows = "".join(
        f'<Default Extension="{ending}" ContentType="{kind}"/>' for ending, kind in TYPES.items()
    )
    return (
        '<?xml version="1.0" encoding="utf-8"?>\n<Types xmlns='
        f'"http://schemas.openxmlformats.org/package/2006/content-types">{rows}</Types>\n'
    )


def _manifest(package: dict[str, Any]) -> str:
    """What an editor reads before it unpacks anything."""
    name, publisher = quoteattr(package["name"]), quoteattr(package["publisher"])
    engine = quoteattr(package["engines"]["vscode"])
    version = quoteattr(feedscript.__version__)
    assets = "\n    ".join(
        f'<Asset Type="Microsoft.VisualStudio.{kind}" Path="extension/{path}" Addressable="true"/>'
        for kind, path in ASSETS.items()
    )
    return f"""<?xml version="1.0" encoding="utf-8"?>
<PackageManifest Version="2.0.0" xmlns="http://schemas.microsoft.com/developer/vsx-schema/2011">
  <Metadata>
    <Identity Language="en-US" Id={name} Version={version} Publisher={publisher}/>
    <DisplayName>{escape(package["displayName"])}</DisplayName>
    <Description xml:space="preserve">{escape(package["description"])}</Description>
    <Categories>{escape(",".join(package["categories"]))}</Categories>
    <License>extension/LICENSE.txt</License>
    <Properties>
      <Property Id="Microsoft.VisualStudio.Code.Engine" Value={engine}/>
      <Property Id="Microsoft.VisualStudio.Code.ExtensionKind" Value="workspace"/>
    </Properties>
  </Metadata>
  <Installation><InstallationTarget Id="Microsoft.VisualStudio.Code"/></Installation>
  <Dependencies/>
  <Assets>
    {assets}
  </Assets>
</PackageManifest>
"""


if __name__ == "__main__":
    FILE.parent.mkdir(exist_ok=True)
    build(FILE)
    print(f"The extension is in {FILE} ({FILE.stat().st_size:,} bytes)")
