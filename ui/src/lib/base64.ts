/** So many bytes go through one call of a function at a time. */
const AT_ONCE = 0x8000

/** The bytes of a file as base64 (RFC 4648). */
export async function base64Of(part: Blob): Promise<string> {
  const bytes = new Uint8Array(await part.arrayBuffer())
  let text = ''
  for (let at = 0; at < bytes.length; at += AT_ONCE) text += String.fromCharCode(...bytes.subarray(at, at + AT_ONCE))
  return btoa(text)
}
