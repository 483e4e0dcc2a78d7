/** The long side of a picture that is kept, in dots: enough to tell a fin from a stick, small enough for a logbook. */
const LONG_PX = 1024

/** The long side of a picture that lies under a map: half a metre a dot over a kilometre. */
const MAP_PX = 2048

/**
 * A picture made smaller, as an address that holds the data. Drawn anew, so that it holds the picture and nothing of
 * what cameras write beside it, such as the place.
 */
export async function smallPhoto(file: Blob): Promise<string> {
  return (await drawnAnew(file, LONG_PX)).toDataURL('image/jpeg', 0.8)
}

/** The same for a picture that is to lie under a map: a file, upright, with nothing in it but the picture. */
export async function mapPicture(file: Blob): Promise<Blob> {
  const canvas = await drawnAnew(file, MAP_PX)
  return new Promise((done, failed) => {
    canvas.toBlob((blob) => { if (blob) done(blob); else failed(new Error('no picture')) }, 'image/jpeg', 0.85)
  })
}

async function drawnAnew(file: Blob, long_px: number): Promise<HTMLCanvasElement> {
  const picture = await createImageBitmap(file)
  const scale = Math.min(1, long_px / Math.max(picture.width, picture.height))
  const canvas = document.createElement('canvas')
  canvas.width = Math.max(1, Math.round(picture.width * scale))
  canvas.height = Math.max(1, Math.round(picture.height * scale))
  canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height)
  picture.close()
  return canvas
}
