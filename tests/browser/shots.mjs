// Pictures of every screen and state, to be looked at: node shots.mjs [folder]
import { mkdir } from 'node:fs/promises'
import { join, resolve } from 'node:path'
import { answered, DESKTOP, openBrowser, openSite, PHONE, SENSING, ui } from './site.mjs'
import { tour } from './tour.mjs'

const folder = resolve(ui, process.argv[2] ?? '../target/shots')
await mkdir(folder, { recursive: true })
const site = await openSite()
const browser = await openBrowser()
let taken = 0
/** The flights there are before any is told on a screen. */
let flights = null

/** Every flight of the day as it is answered: all there is to see of invented answers. */
async function answers(page, shoot) {
  await page.goto(site.address)
  await page.locator('[data-flight]').first().waitFor()
  flights ??= await page.locator('[data-flight]').evaluateAll((all) => all.map((it) => it.dataset.flight))
  for (const flight of flights) {
    await page.locator(`[data-flight="${flight}"]`).click()
    await answered(page)
    await shoot(`of-${flight}`)
    await page.getByRole('button', { name: 'Flights' }).click()
  }
}

for (const [device, options] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
  for (const colorScheme of ['light', 'dark']) {
    const context = await browser.newContext({ ...SENSING, ...options, isMobile: device === 'phone', colorScheme })
    const page = await context.newPage()
    const shoot = async (name) => {
      await page.waitForTimeout(400) // the map draws on its own frames
      await page.screenshot({ path: join(folder, `${device}-${colorScheme}-${name}.png`) })
      taken++
    }
    await answers(page, shoot)
    if (site.isReal) await tour(page, context, site, shoot)
    await context.close()
  }
}
await browser.close()
site.close()
console.log(`${taken} pictures of ${site.kind} in ${folder}`)
