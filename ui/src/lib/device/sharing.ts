import { base64Of } from '../base64'

/** What became of a file that was handed on. */
export type Shared = 'shared' | 'saved' | 'kept'

/** Hands files on: pictures, fields, the logbook. */
export interface Sharing {
  /** Through the device's own way of sharing, else as a saved file. `kept`: the flyer changed their mind. */
  file(content: Blob, name: string): Promise<Shared>
}

/** Android's sheet of ways to share; its web view has none of its own, and saves no file. The activity has it (`MainActivity.kt`). */
export interface SharedFiles {
  begin(name: string): void
  add(base64: string): void
  hand(type: string): void
}
/** Whole threes of bytes, so that the parts can stand one behind the other. */
const PART_BYTES = 768 * 1024

/** The device's way of sharing; a saved file where there is none. */
export function deviceSharing(
  device: Partial<Pick<Navigator, 'share' | 'canShare'>> = navigator,
  page: Document = document,
  sheet?: SharedFiles,
): Sharing {
  return {
    file: async (content, name) => {
      if (sheet) {
        sheet.begin(name)
        for (let at = 0; at < content.size; at += PART_BYTES) sheet.add(await base64Of(content.slice(at, at + PART_BYTES)))
        sheet.hand(content.type)
        return 'shared'
      }
      const files = [new File([content], name, { type: content.type })]
      if (device.canShare?.({ files }) && device.share) {
        try {
          await device.share({ files })
          return 'shared'
        } catch (thrown) {
          if (thrown instanceof Error && thrown.name === 'AbortError') return 'kept'
        }
      }
      const address = URL.createObjectURL(content)
      const link = page.createElement('a')
      link.href = address
      link.download = name
      link.click()
      setTimeout(() => {
        URL.revokeObjectURL(address)
      }, 60_000)
      return 'saved'
    },
  }
}

/** A way of sharing that only remembers. */
export function fakeSharing(): Sharing & { handed: { content: Blob; name: string }[] } {
  const handed: { content: Blob; name: string }[] = []
  return {
    handed,
    file: (content, name) => {
      handed.push({ content, name })
      return Promise.resolve('saved')
    },
  }
}
