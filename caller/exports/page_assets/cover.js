/** What stands on the page before the start. */

function tellTrouble(sentence) {
  put("trouble", sentence);
}

put("title", course.title);
put("length", `${counted(parts.length, "part")}, ${told(course.seconds)} long`);
element("opening").replaceChildren(...parts.map((chapter, index) => {
  const option = document.createElement("option");
  option.value = index;
  option.textContent = `${index + 1}. ${chapters[chapter].title}`;
  return option;
}));

sound.addEventListener("error", () => {
  tellTrouble("This browser cannot play the sound in this page.");
});
