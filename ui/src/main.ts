import { mount } from 'svelte'
import App from './App.svelte'
import { chooseBackend } from './lib/backend'
import { thisDevice } from './lib/device'
import './look.css'

const target = document.getElementById('app')
if (!target) throw new Error('index.html has no element with id "app"')
const backend = await chooseBackend()
mount(App, { target, props: { backend, device: thisDevice(() => backend.position()) } })
