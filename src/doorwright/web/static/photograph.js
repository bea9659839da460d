// @ts-check
/** A photograph made small enough to keep and to send, and bare of where and with what it was taken. */

const SIDE_MOST_PX = 2048;
const QUALITY = 0.85;

/**
 * Draw a picture anew, upright, and return it as JPEG. What is drawn has no place, time or camera in it.
 * @param {File} file
 * @returns {Promise<ArrayBuffer>}
 */
export async function shrunk(file) {
  const upright = /** @type {any} */ ({ imageOrientation: "from-image" }); // newer than the types we check against
  const image = await createImageBitmap(file, upright);
  const scale = Math.min(1, SIDE_MOST_PX / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(image.width * scale));
  canvas.height = Math.max(1, Math.round(image.height * scale));
  const pen = canvas.getContext("2d");
  if (!pen) throw new Error("this browser cannot draw");
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  image.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  if (!(blob instanceof Blob)) throw new Error("this browser cannot write a JPEG");
  return blob.arrayBuffer();
}
