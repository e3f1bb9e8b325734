// Whoever goes back to a form meets it with the key that it had, even where the page was fetched
// anew: sent again as it was, it is no second wish.
"use strict";
for (const key of document.querySelectorAll("input[name=submission]")) {
  const kept = history.state?.submission;
  if (kept) key.value = kept;
  else history.replaceState({ ...history.state, submission: key.value }, "");
}
