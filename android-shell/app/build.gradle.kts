// For people with an SDK; not run by us. Same sources, manifest and keep rules as pom.xml and the check of the APK.
plugins {
    id("com.android.application") version "8.9.2"
    id("org.jetbrains.kotlin.android") version "2.1.20"
}

android {
    namespace = "witnessmark.shell"
    compileSdk = 35
    defaultConfig {
        applicationId = "witnessmark.shell"
        minSdk = 26
        targetSdk = 35
        versionCode = 1
        versionName = "0.1.0"
        ndk { abiFilters += listOf("arm64-v8a", "x86_64") }
    }
    sourceSets["main"].java.srcDirs("src/main/kotlin", "../../target/door/kotlin")
    buildTypes["release"].apply {
        isMinifyEnabled = true
        proguardFiles("rules.pro")
    }
    compileOptions { sourceCompatibility = JavaVersion.VERSION_11; targetCompatibility = JavaVersion.VERSION_11 }
    kotlinOptions { jvmTarget = "11" }
}

dependencies { implementation("net.java.dev.jna:jna:5.19.1@aar") }
