package witnessmark.shell

import java.io.File
import org.junit.Assert.assertEquals
import org.junit.Assert.assertTrue
import org.junit.Test

/** What the sources say of themselves. */
class StructureTest {
    private val main = File(System.getProperty("shell.sources")!!, "main")
    private val kotlin = File(main, "kotlin").walkTopDown().filter { it.extension == "kt" }.toList()

    @Test fun noNetworkPermissionAtAll() {
        val manifest = File(main, "AndroidManifest.xml").readText()
        val asked = Regex("""uses-permission android:name="([^"]+)"""").findAll(manifest).map { it.groupValues[1] }.toSet()
        assertEquals(setOf("android.permission.CAMERA", "android.permission.RECORD_AUDIO", "android.permission.ACCESS_COARSE_LOCATION", "android.permission.ACCESS_FINE_LOCATION"), asked)
        assertTrue(manifest.contains("""android:minSdkVersion="26" android:targetSdkVersion="35""""))
    }

    @Test fun noTextInCode() {
        val shown = Regex("""\b(title|line|quiet|heading|caution|say|action|ruled|field|text|contentDescription)\s*[(=]\s*"([^"$]*[A-Za-z]{2}[^"$]*)"""")
        val found = kotlin.flatMap { file -> shown.findAll(file.readText()).map { "${file.name}: ${it.value}" } }
        assertEquals(emptyList<String>(), found)
    }

    @Test fun onlyOneFileHoldsTheNotebook() {
        val holders = kotlin.filter { Regex("""(val|var) \w+: Notebook\??""").containsMatchIn(it.readText()) }.map { it.name }
        assertEquals(listOf("CoreThread.kt"), holders)
    }

    @Test fun filesStaySmall() = kotlin.forEach { assertTrue("${it.name} has ${it.readLines().size} lines", it.readLines().size < 300) }
}
