// What a program's name says of it: one that comes with feedscript, or stands in a club's library, is looked
// at, and copied to be changed.

export const isFixed = (name) => /^(shipped|club)\//.test(name);
export const bareName = (name) => name.replace(/^(shipped|club)\//, "");
/** As a part of an address. */
export const address = (name) => name.split("/").map(encodeURIComponent).join("/");
