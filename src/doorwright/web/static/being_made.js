// @ts-check
/** A page whose content is still being made looks again until it is there. The server waits a moment before it answers. */

if (document.querySelector("[data-being-made]")) setTimeout(() => location.reload(), 500);
