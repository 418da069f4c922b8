using Traceability.Simulator.Commands;

const string usage = """
    traceability-simulator demo --url U [--key K] [--seed N] [--finals N] [--now T] [--batch N] [--connections N]
        Builds the demo scenario in a running service. K is an administrator's key; better given in the environment as TRACEABILITY_KEY.
    traceability-simulator load --url U [--key K] [--rate N] [--seconds N] [--connections N] [--seed N]
        Posts step facts of synthetic units; rate 0 posts as fast as the answers come.
    """;

try
{
    switch (args)
    {
        case ["demo", .. var rest]:
            return await DemoCommand.RunAsync(rest, TimeProvider.System, Console.Out).ConfigureAwait(false);
        case ["load", .. var rest]:
            return await LoadCommand.RunAsync(rest, TimeProvider.System, Console.Out).ConfigureAwait(false);
        default:
            await Console.Error.WriteLineAsync(usage).ConfigureAwait(false);
            return 2;
    }
}
catch (ArgumentsException e)
{
    await Console.Error.WriteLineAsync(e.Message).ConfigureAwait(false);
    await Console.Error.WriteLineAsync(usage).ConfigureAwait(false);
    return 2;
}
catch (Exception e) when (e is HttpRequestException or InvalidOperationException or TaskCanceledException)
{
    await Console.Error.WriteLineAsync(e.Message).ConfigureAwait(false);
    return 1;
}
