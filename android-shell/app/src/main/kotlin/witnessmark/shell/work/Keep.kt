package witnessmark.shell.work

import android.content.Context
import org.json.JSONArray
import org.json.JSONObject
import witnessmark.door.RouteGiven

/** A screen and what it is about. */
data class Where(val screen: String, val about: Map<String, String> = emptyMap()) {
    operator fun get(key: String): String? = about[key]
    fun with(vararg more: Pair<String, String?>): Where =
        copy(about = about + more.mapNotNull { (key, value) -> value?.let { key to it } })
    /** Without what was typed there and not kept. */
    fun fresh(): Where = copy(about = about.filterKeys { !it.startsWith(NOTED) })
    companion object { const val NOTED = "noted " }
}

/** What the shell itself remembers: where the person was, and how they like to hold it. No facts. */
class Keep(context: Context) {
    private val store = context.getSharedPreferences("shell", Context.MODE_PRIVATE)

    var leftHanded: Boolean
        get() = store.getBoolean("left", false)
        set(value) = store.edit().putBoolean("left", value).apply()
    /** `phone`, `sun` or `night`. */
    var theme: String
        get() = store.getString("theme", "phone")!!
        set(value) = store.edit().putString("theme", value).apply()
    var systemCamera: Boolean
        get() = store.getBoolean("system_camera", false)
        set(value) = store.edit().putBoolean("system_camera", value).apply()
    var meetingFolder: String?
        get() = store.getString("meeting", null)
        set(value) = store.edit().putString("meeting", value).apply()
    var backupFolder: String?
        get() = store.getString("backup", null)
        set(value) = store.edit().putString("backup", value).apply()
    var backupAt: String?
        get() = store.getString("backup_at", null)
        set(value) = store.edit().putString("backup_at", value).apply()
    var withLocation: Boolean
        get() = store.getBoolean("location", false)
        set(value) = store.edit().putBoolean("location", value).apply()
    /** Write the position into photos of our own viewfinder. */
    var position: Boolean
        get() = store.getBoolean("position", false)
        set(value) = store.edit().putBoolean("position", value).apply()
    var withoutPeople: Boolean
        get() = store.getBoolean("without_people", false)
        set(value) = store.edit().putBoolean("without_people", value).apply()
    var readBack: Boolean
        get() = store.getBoolean("read_back", true)
        set(value) = store.edit().putBoolean("read_back", value).apply()

    /** The way round, by aircraft. */
    fun route(aircraft: String): RouteGiven = RouteGiven(
        store.getBoolean("turn.$aircraft", false), null,
        store.getString("order.$aircraft", "")!!.split(',').filter { it.isNotEmpty() },
    )
    fun turn(aircraft: String) =
        store.edit().putBoolean("turn.$aircraft", !store.getBoolean("turn.$aircraft", false)).remove("order.$aircraft").apply()
    fun order(aircraft: String, stops: List<String>) = store.edit().putString("order.$aircraft", stops.joinToString(",")).apply()

    /** Written at once, not when the system allows it: a kill may come any time. */
    fun remember(stack: List<Where>) {
        val list = JSONArray()
        stack.forEach { where -> list.put(JSONObject().put("screen", where.screen).put("about", JSONObject(where.about))) }
        store.edit().putString("stack", list.toString()).commit()
    }
    fun stack(): List<Where> {
        val list = JSONArray(store.getString("stack", "[]"))
        return (0 until list.length()).map { i ->
            val about = list.getJSONObject(i).getJSONObject("about")
            Where(list.getJSONObject(i).getString("screen"), about.keys().asSequence().associateWith { about.getString(it) })
        }
    }
}
