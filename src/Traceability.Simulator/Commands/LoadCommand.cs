using System.Globalization;
using Traceability.Simulator.Posting;

namespace Traceability.Simulator.Commands;

/// <summary>Posts step facts of synthetic units at a set rate and tells how long the answers took.</summary>
internal static class LoadCommand
{
    public static async Task<int> RunAsync(IReadOnlyList<string> words, TimeProvider time, TextWriter output)
    {
        var arguments = Arguments.Read(words, "url", "key", "rate", "seconds", "connections", "seed");
        var (url, key) = (arguments.Url("url"), arguments.Key());
        var options = new LoadOptions(
            arguments.Int("rate", 0, 0, 1_000_000),
            TimeSpan.FromSeconds(arguments.Int("seconds", 10, 1, 3_600)),
            arguments.Int("connections", 32, 1, 1_024),
            arguments.Seed("seed", (ulong)time.GetUtcNow().UtcTicks));
        using var handler = new SocketsHttpHandler { MaxConnectionsPerServer = options.Connections };
        using var http = new HttpClient(handler) { BaseAddress = url };
        var report = await new LoadGenerator(new ServiceClient(http, time), key, time).RunAsync(options).ConfigureAwait(false);
        await output.WriteLineAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"{report.Accepted} facts accepted, {report.Refused} refused, {report.PerSecond:0} per second over {options.Connections} connections.")).ConfigureAwait(false);
        await output.WriteLineAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"Time to answer: median {report.At(0.50):0.0} ms, 95 % {report.At(0.95):0.0} ms, 99 % {report.At(0.99):0.0} ms, longest {report.At(1):0.0} ms.")).ConfigureAwait(false);
        if (report.FirstRefusal is { } refusal)
        {
            await output.WriteLineAsync($"First refusal: {refusal.Status} {refusal.Code}: {refusal.Detail}").ConfigureAwait(false);
        }

        return report.Refused == 0 ? 0 : 1;
    }
}
