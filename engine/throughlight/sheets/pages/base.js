// What the page was given: constants that all sets share, and the sets themselves.

const given = JSON.parse(document.getElementById("given").textContent);
const { common, sets } = given;
const upTo = (count) => Array.from({ length: count }, (_, index) => index);
const byId = (id) => document.getElementById(id);
