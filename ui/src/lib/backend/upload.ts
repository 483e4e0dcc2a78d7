import { base64Of } from '../base64'
import type { Backend } from './client'

/** So much at a time: the way to the core takes no more than some megabytes. */
const PART_BYTES = 3 * 1024 * 1024

/** Brings a file to the core in parts; what it is called there. `onshare` hears how much of it has gone. */
export async function bring(backend: Pick<Backend, 'bringFile'>, file: Blob, onshare: (share: number) => void): Promise<string> {
  const name = crypto.randomUUID()
  let at = 0
  do {
    const part = file.slice(at, at + PART_BYTES)
    at = await backend.bringFile(name, at, await base64Of(part))
    onshare(file.size > 0 ? at / file.size : 1)
  } while (at < file.size)
  return name
}
