#[derive(clap::Args)]
pub(crate) struct Options {}
pub(crate) fn run(_options: &Options) -> anyhow::Result<()> {
    anyhow::bail!("not built in yet")
}
