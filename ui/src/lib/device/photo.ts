/** The long side of a picture that is kept, in dots: enough to tell a fin from a stick, small enough for a logbook. */
const LONG_PX = 1024

/**
 * A picture made smaller, as an address that holds the data. Drawn anew, so that it holds the picture and nothing of
 * what cameras write beside it, such as the place.
 */
export async function smallPhoto(file: Blob): Promise<string> {
  const picture = await createImageBitmap(file)
  const scale = Math.min(1, LONG_PX / Math.max(picture.width, picture.height))
  const canvas = document.createElement('canvas')
  canvas.width = Math.max(1, Math.round(picture.width * scale))
  canvas.height = Math.max(1, Math.round(picture.height * scale))
  canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height)
  picture.close()
  return canvas.toDataURL('image/jpeg', 0.8)
}
