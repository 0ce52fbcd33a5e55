//! The engine's draw loop beside numpy: what a set of options brings, for 10,000 draws, 40 factors and
//! 7 lesions. Run with `cargo bench --bench draws`; `UNDERFOOT_PYTHON` names another python.
//!
//! Both sides reckon `sum over lesions of lambda (1 - exp(-kappa sum over factors of beta drop))` from
//! the same made-up numbers, and the results must agree before any time is printed.

use std::hint::black_box;
use std::process::{Command, ExitCode};
use std::time::Instant;

use underfoot::model::lesion::{Lesion, PerLesion};
use underfoot::reckon::herd_rate::RateDraws;
use underfoot::reckon::interventions::{Setting, gain};
use underfoot::reckon::prices::{CaseCosts, Withheld};
use underfoot::reckon::weights::WeightDraws;

const DRAWS: usize = 10_000;
const FACTORS: usize = 40;
const LESIONS: usize = Lesion::COUNT;
const RUNS: usize = 31;
const HUNDRED_COWS: f64 = 3.2;
const KAPPA: f64 = 0.7;

/// The `n`-th made-up number, from 0 to 1; the peer makes the same ones.
fn number(n: usize) -> f64 {
    ((n as u64 + 1).wrapping_mul(2_654_435_761) % (1 << 32)) as f64 / 4_294_967_296.0
}

/// `DRAWS` numbers from `from` on, times `scale`.
fn numbers(from: usize, scale: f64) -> Vec<f64> {
    (0..DRAWS).map(|draw| scale * number(from + draw)).collect()
}

struct Inputs {
    drops: Vec<(usize, Vec<f64>)>,
    drawn: Vec<WeightDraws>,
    setting: Setting,
}

fn inputs() -> Inputs {
    let beta = |lesion: usize, factor: usize| numbers((lesion * FACTORS + factor) * DRAWS, 0.1);
    let drops_from = LESIONS * FACTORS * DRAWS;
    let lambdas_from = drops_from + FACTORS * DRAWS;
    let lambda = |lesion: Lesion| numbers(lambdas_from + lesion as usize * DRAWS, 10.0);
    let drawn =
        |factor| WeightDraws { by_lesion: PerLesion::from_fn(|lesion| Some(beta(lesion as usize, factor))) };
    Inputs {
        drops: (0..FACTORS).map(|factor| (factor, numbers(drops_from + factor * DRAWS, 1.0))).collect(),
        drawn: (0..FACTORS).map(drawn).collect(),
        setting: Setting {
            hundred_cows: HUNDRED_COWS,
            kappa: KAPPA,
            traffic_shares: Vec::new(),
            rates: RateDraws {
                rate_per_100_cow_years: vec![0.0; DRAWS],
                by_lesion: PerLesion::from_fn(lambda),
            },
            duration_days: PerLesion::from_fn(|_| vec![0.0; DRAWS]),
            case_costs: CaseCosts::Withheld(Withheld::NoCurrency),
            growing_share: 0.0,
        },
    }
}

/// Best and median time of the engine's loop in milliseconds, and its mean over the draws.
fn engine() -> (f64, f64, f64) {
    let Inputs { drops, drawn, setting } = inputs();
    let mut times = Vec::new();
    let mut total = 0.0;
    for _ in 0..RUNS {
        let start = Instant::now();
        let cases = gain(black_box(&drops), None, black_box(&drawn), black_box(&setting)).cases;
        times.push(start.elapsed().as_secs_f64() * 1e3);
        total = cases.iter().sum::<f64>();
    }
    times.sort_by(f64::total_cmp);
    (times[0], times[RUNS / 2], total / DRAWS as f64)
}

/// The peer's lines, `best median mean expression`, or why there are none.
fn peer() -> Result<String, String> {
    let python = std::env::var("UNDERFOOT_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/peers/draws_numpy.py");
    let sizes = [DRAWS, FACTORS, LESIONS, RUNS].map(|size| size.to_string());
    // A kernel forced by the environment would make numpy slower than it is.
    let output = Command::new(&python)
        .arg(script)
        .args(sizes)
        .args([HUNDRED_COWS, KAPPA].map(|value| value.to_string()))
        .env_remove("OPENBLAS_CORETYPE")
        .env_remove("OPENBLAS_L2_SIZE")
        .output()
        .map_err(|error| format!("{python}: {error}"))?;
    if !output.status.success() {
        let message = String::from_utf8_lossy(&output.stderr);
        return Err(message.lines().last().unwrap_or("no message").to_owned());
    }
    String::from_utf8(output.stdout).map_err(|error| error.to_string())
}

fn main() -> ExitCode {
    let (best, median, engine_mean) = engine();
    println!("{DRAWS} draws, {FACTORS} factors, {LESIONS} lesions; {RUNS} runs, one thread\n");
    println!("{:>9}  {:>9}  {:>9}  how", "best ms", "median ms", "v. engine");
    println!("{best:9.2}  {median:9.2}  {:>9}  reckon::interventions::gain", "1.0");
    let lines = match peer() {
        Ok(lines) => lines,
        Err(error) => {
            println!("\nnumpy was not run: {error}");
            return ExitCode::SUCCESS;
        }
    };
    let mut agree = true;
    for line in lines.lines() {
        let mut words = line.splitn(4, ' ');
        let mut value = || words.next().and_then(|word| word.parse::<f64>().ok()).unwrap_or(f64::NAN);
        let (peer_best, peer_median, mean) = (value(), value(), value());
        let name = words.next().unwrap_or("");
        println!("{peer_best:9.2}  {peer_median:9.2}  {:9.1}  {name}", peer_best / best);
        agree &= ((mean - engine_mean) / engine_mean).abs() < 1e-9;
    }
    if !agree {
        eprintln!("\nthe results differ: engine {engine_mean}");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
