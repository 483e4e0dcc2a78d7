import { mount } from 'svelte'
import App from './App.svelte'
import { chooseBackend } from './lib/backend'
import { deviceReceiver } from './lib/device/position'
import './look.css'

const target = document.getElementById('app')
if (!target) throw new Error('index.html has no element with id "app"')
const backend = await chooseBackend()
// Some web views leave `geolocation` out although its type says it is always there.
const geolocation = (navigator as { geolocation?: Geolocation }).geolocation
mount(App, { target, props: { backend, receiver: deviceReceiver(geolocation) } })
