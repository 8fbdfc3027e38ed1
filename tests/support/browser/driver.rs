//! Chromium and its driver: installed where they are missing, started, ended.

use super::{Fault, say, server::Wall};
use serde_json::json;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use thirtyfour::prelude::*;
use thirtyfour::{ChromiumLikeCapabilities, DesiredCapabilities, LoggingPrefsLogLevel};

const HOW: &str =
    "install Chromium and its driver (Debian: sudo apt-get install chromium chromium-driver)";

/// A running chromedriver, which ends with this value.
#[derive(Debug)]
pub struct Driver {
    process: Child,
    port: u16,
}

impl Drop for Driver {
    fn drop(&mut self) {
        // Both fail only where the process is gone already, which is what is wanted.
        self.process.kill().ok();
        self.process.wait().ok();
    }
}

impl Driver {
    /// Starts chromedriver on a free port, having installed it if need be and can do.
    pub fn start() -> Result<Self, Fault> {
        install_if_missing()?;
        let mut process = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|error| format!("chromedriver could not be started ({error}): {HOW}"))?;
        let mut output = BufReader::new(process.stdout.take().ok_or("chromedriver has no output")?);
        let mut driver = Self { process, port: 0 };
        while driver.port == 0 {
            let mut line = String::new();
            if output.read_line(&mut line)? == 0 {
                return Err(format!("chromedriver ended at once: {HOW}").into());
            }
            // «ChromeDriver was started successfully on port 12345.»
            if let Some((_, rest)) = line.split_once("successfully on port ") {
                driver.port = rest.trim().trim_end_matches('.').parse()?;
            }
        }
        // Whoever stops reading stops the driver, once the pipe is full.
        std::thread::Builder::new()
            .name("driver output".to_owned())
            .spawn(move || {
                output.read_to_end(&mut Vec::new()).ok();
            })?;
        Ok(driver)
    }

    /// Opens a Chromium without a window whose only way out is `wall`; downloads land in `profile/downloads`.
    pub async fn open(&self, profile: &Path, wall: &Wall) -> Result<WebDriver, Fault> {
        let mut wanted = DesiredCapabilities::chrome();
        for switch in [
            "--headless",
            "--no-sandbox", // root, as in a container, has none
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-extensions",
            "--disable-sync",
            "--disable-default-apps",
            "--disable-dev-shm-usage",
            "--disable-quic",
            "--disable-features=AutofillServerCommunication,OptimizationHints,MediaRouter,Translate",
            // WebGL only is drawn as by a graphics card: the rest of the page the processor draws sooner by itself. It then
            // fetches each picture from there, which is no fault of the page to be told of.
            "--use-angle=swiftshader",
            "--enable-unsafe-swiftshader",
            "--disable-gpu-compositing",
            "--suppress-performance-logs",
            "--force-color-profile=srgb",
            "--lang=en",
            "--window-size=1440,900",
            &format!("--user-data-dir={}", profile.display()),
            &format!("--proxy-server=http://{}", wall.address()),
        ] {
            wanted.add_arg(switch)?;
        }
        let downloads = profile.join("downloads");
        std::fs::create_dir_all(&downloads)?;
        wanted.add_experimental_option(
            "prefs",
            json!({ "download.default_directory": downloads, "download.prompt_for_download": false }),
        )?;
        wanted.add_experimental_option(
            "perfLoggingPrefs",
            json!({ "enableNetwork": true, "enablePage": false }),
        )?;
        wanted.set_logging_prefs("browser", LoggingPrefsLogLevel::All)?;
        wanted.set_logging_prefs("performance", LoggingPrefsLogLevel::All)?;
        Ok(WebDriver::new(format!("http://127.0.0.1:{}", self.port), wanted).await?)
    }
}

fn install_if_missing() -> Result<(), Fault> {
    if runs("chromedriver", &["--version"]) {
        return Ok(());
    }
    if !runs("apt-get", &["--version"]) {
        return Err(format!("chromedriver is missing: {HOW}").into());
    }
    let root = Command::new("id")
        .arg("-u")
        .output()
        .is_ok_and(|output| output.stdout.trim_ascii() == b"0");
    let before: &[&str] = if root {
        &[]
    } else if runs("sudo", &["-n", "true"]) {
        &["sudo", "-n"]
    } else {
        return Err(format!("chromedriver is missing and only root may add it: {HOW}").into());
    };
    say("Installing chromium and chromium-driver by apt, once.");
    for step in [
        &["update"][..],
        &[
            "install",
            "-y",
            "--no-install-recommends",
            "chromium",
            "chromium-driver",
        ],
    ] {
        let words: Vec<&str> = before
            .iter()
            .chain(&["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-q"])
            .chain(step)
            .copied()
            .collect();
        let status = Command::new(words[0])
            .args(&words[1..])
            .stdout(Stdio::null())
            .status()?;
        if !status.success() {
            return Err(format!("apt-get {} failed ({status}): {HOW}", step.join(" ")).into());
        }
    }
    Ok(())
}

fn runs(program: &str, words: &[&str]) -> bool {
    Command::new(program)
        .args(words)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}
