package witnessmark.shell.stop

import witnessmark.door.StopView
import witnessmark.shell.R
import witnessmark.shell.kit.Page

fun Page.stopPage(view: StopView, act: (String) -> Unit, passBy: () -> Unit, zone: (String) -> Unit, more: () -> Unit) {
    title(view.name, "${view.registration} · ${view.position}")
    view.cautions.forEach { caution(it) }
    // A source once, below the lines that it stands for.
    view.lookFor.forEachIndexed { i, look -> line(look.text); if (view.lookFor.getOrNull(i + 1)?.source != look.source) quiet(look.source) }
    heading(word(R.string.zones))
    for (line in view.zones) ruled("${line.code} ${line.name}", line.lookSays, "zone:${line.code}") { zone(line.code) }
    line(view.earlierSays)
    for (action in view.actions) {
        val title = if (action.key == "view") view.views.firstOrNull()?.title ?: action.title else action.title
        action(title, action.size, "act:${action.key}") { act(action.key) }
    }
    action(word(R.string.pass_by), "small", "pass") { passBy() }
    action(word(R.string.more), "small", "more") { more() }
}
