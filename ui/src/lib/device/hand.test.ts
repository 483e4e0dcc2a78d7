import { afterEach, expect, test, vi } from 'vitest'
import { deviceBattery, type Charge } from './battery'
import { deviceCamera } from './camera'
import { deviceSharing } from './sharing'

afterEach(() => {
  vi.unstubAllGlobals()
  vi.useRealTimers()
})

const png = new Blob(['a picture'], { type: 'image/png' })

test('a_picture_goes_the_way_the_device_offers', async () => {
  const given: File[] = []
  const device = {
    canShare: () => true,
    share: ({ files }: ShareData) => {
      given.push(...(files ?? []))
      return Promise.resolve()
    },
  }
  expect(await deviceSharing(device, {} as Document).file(png, 'it.png')).toBe('shared')
  expect(given.map((it) => [it.name, it.type])).toEqual([['it.png', 'image/png']])
})

test('who_changes_their_mind_gets_no_file_and_a_device_that_cannot_share_saves_one', async () => {
  const links: { href: string; download: string; clicked: boolean }[] = []
  const page = {
    createElement: () => {
      const link = { href: '', download: '', clicked: false, click: () => (link.clicked = true) }
      links.push(link)
      return link
    },
  } as unknown as Document
  vi.useFakeTimers()
  vi.stubGlobal('URL', { createObjectURL: () => 'blob:it', revokeObjectURL: () => undefined })
  const aborted = { canShare: () => true, share: () => Promise.reject(Object.assign(new Error('no'), { name: 'AbortError' })) }
  expect(await deviceSharing(aborted, page).file(png, 'it.png')).toBe('kept')
  expect(links).toEqual([])
  expect(await deviceSharing({}, page).file(png, 'it.png')).toBe('saved')
  expect(links).toMatchObject([{ href: 'blob:it', download: 'it.png', clicked: true }])
})

test('the_sheet_of_the_phone_gets_a_file_whole_in_parts_that_stand_one_behind_the_other', async () => {
  const given = { name: '', base64: '', type: '', parts: 0 }
  const sheet = {
    begin: (name: string) => Object.assign(given, { name }),
    add: (base64: string) => Object.assign(given, { base64: given.base64 + base64, parts: given.parts + 1 }),
    hand: (type: string) => Object.assign(given, { type }),
  }
  const bytes = Uint8Array.from({ length: 1_700_000 }, (_, at) => (at * 7) % 251)
  expect(await deviceSharing({}, {} as Document, sheet).file(new Blob([bytes], { type: 'text/csv' }), 'it.csv')).toBe('shared')
  expect([given.name, given.type, given.parts]).toEqual(['it.csv', 'text/csv', 3])
  expect(Buffer.from(given.base64, 'base64').equals(Buffer.from(bytes))).toBe(true)
})

test('a_battery_tells_at_once_and_with_every_change_until_nobody_listens', async () => {
  const told = Object.assign(new EventTarget(), { level: 0.5, charging: false })
  const heard: Charge[] = []
  const end = deviceBattery({ getBattery: () => Promise.resolve(told) }).watch((charge) => heard.push(charge))
  await Promise.resolve()
  await Promise.resolve()
  told.level = 0.1
  told.dispatchEvent(new Event('levelchange'))
  end()
  told.dispatchEvent(new Event('levelchange'))
  expect(heard).toEqual([{ share: 0.5, charging: false }, { share: 0.1, charging: false }])
  // A web view that does not tell is silent.
  deviceBattery({}).watch((charge) => heard.push(charge))()
  expect(heard.length).toBe(2)
})

test('the_camera_shows_its_picture_and_is_let_go', async () => {
  let stopped = 0
  const stream = { getTracks: () => [{ stop: () => stopped++ }] } as unknown as MediaStream
  const video = { srcObject: null, play: () => Promise.resolve() } as unknown as HTMLVideoElement
  const end = await deviceCamera({ getUserMedia: () => Promise.resolve(stream) }).show(video)
  expect(video.srcObject).toBe(stream)
  end()
  expect([stopped, video.srcObject]).toEqual([1, null])
  await expect(deviceCamera(undefined).show(video)).rejects.toThrow('no camera')
})
