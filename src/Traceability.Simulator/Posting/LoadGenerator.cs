using System.Collections.Concurrent;
using System.Globalization;
using System.Text.Json.Nodes;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Posting;

/// <summary>What load to make.</summary>
/// <param name="Rate">Facts per second over all connections; 0: each connection posts as soon as it has its answer.</param>
/// <param name="Length">For how long.</param>
/// <param name="Connections">How many posts run at the same time.</param>
/// <param name="Seed">Chooses ids and serials; another one for each run, or the facts are repeats.</param>
public sealed record LoadOptions(int Rate, TimeSpan Length, int Connections, ulong Seed);

/// <summary>What came of it.</summary>
/// <param name="Accepted">Facts accepted.</param>
/// <param name="Refused">Facts refused.</param>
/// <param name="Elapsed">How long it took.</param>
/// <param name="Milliseconds">Times to answer, ascending; at a set rate counted from when the post was due.</param>
/// <param name="FirstRefusal">The first refusal, if any.</param>
public sealed record LoadReport(int Accepted, int Refused, TimeSpan Elapsed, IReadOnlyList<double> Milliseconds, FactAnswer? FirstRefusal)
{
    /// <summary>Accepted facts per second.</summary>
    public double PerSecond => Accepted / Elapsed.TotalSeconds;

    /// <summary>The time within which that share of the answers came (nearest rank).</summary>
    public double At(double share) =>
        Milliseconds.Count == 0 ? 0 : Milliseconds[Math.Clamp((int)Math.Ceiling(share * Milliseconds.Count) - 1, 0, Milliseconds.Count - 1)];
}

/// <summary>Posts step facts of units of a tiny item of its own, one unit after another on each connection.</summary>
public sealed class LoadGenerator(ServiceClient client, string key, TimeProvider time)
{
    private const string Item = "LOAD-1";
    private const string Station = "LOAD-1";
    private const int StepsPerUnit = 8;

    /// <summary>Defines the item and posts until the time is over.</summary>
    public async Task<LoadReport> RunAsync(LoadOptions options, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(options);
        await DefineAsync(cancellation).ConfigureAwait(false);
        var took = new ConcurrentBag<double>();
        var refusals = new ConcurrentBag<FactAnswer>();
        var began = time.GetTimestamp();
        var due = -1L;
        await Task.WhenAll(Enumerable.Range(0, options.Connections).Select(ConnectionAsync)).ConfigureAwait(false);
        var elapsed = time.GetElapsedTime(began);
        double[] sorted = [.. took.Order()];
        return new(sorted.Length - refusals.Count, refusals.Count, elapsed, sorted, refusals.FirstOrDefault());

        async Task ConnectionAsync(int number)
        {
            var random = SplitMix.For(options.Seed, "connection/" + number.ToString(CultureInfo.InvariantCulture));
            var unit = default(UnitId);
            for (var count = 0; time.GetElapsedTime(began) < options.Length; count++)
            {
                var start = time.GetElapsedTime(began);
                if (options.Rate > 0)
                {
                    var at = TimeSpan.FromSeconds((double)Interlocked.Increment(ref due) / options.Rate);
                    if (at > start)
                    {
                        await Task.Delay(at - start, time, cancellation).ConfigureAwait(false);
                    }

                    start = at;
                }

                var step = count % StepsPerUnit;
                unit = step == 0 ? new(Item, string.Create(CultureInfo.InvariantCulture, $"{random.Next():X16}")) : unit;
                var answer = await client.PostAsync(Fact(unit, step, random), key, TimeSpan.Zero, cancellation).ConfigureAwait(false);
                took.Add((time.GetElapsedTime(began) - start).TotalMilliseconds);
                if (!answer.IsAccepted)
                {
                    refusals.Add(answer);
                }
            }
        }
    }

    private string Fact(UnitId unit, int step, SplitMix random)
    {
        var body = new JsonObject
        {
            ["factId"] = random.Id(),
            ["type"] = step == 0 ? "unit-opened" : "step-completed",
            ["occurredAt"] = Body.Time(time.GetUtcNow()),
            ["station"] = Station,
            ["person"] = "LOAD-1",
            ["unit"] = Body.Unit(unit),
        };
        if (step > 0)
        {
            body["step"] = string.Create(CultureInfo.InvariantCulture, $"S{step}");
            body["materials"] = Body.List(Body.Material("LOAD-ADH", ["L1"], null, Body.Quantity(0.1m, "g"), "BOND"));
            body["measurements"] = Body.List(Body.Measurement("TORQUE", random.Bell(1.2m, 0.05m, 3), "N.m"));
            body["checks"] = Body.List(Body.Check("SEATED", true));
        }

        return Body.Write(body);
    }

    // The ids of the definitions are fixed: a second run repeats them and changes nothing.
    private async Task DefineAsync(CancellationToken cancellation)
    {
        var random = SplitMix.For(0, "load-definitions");
        var at = new DateTimeOffset(2026, 1, 5, 8, 0, 0, TimeSpan.Zero);
        var steps = new JsonArray([.. Enumerable.Range(1, StepsPerUnit - 1).Select(i => (JsonNode)RoutingParts.Step(
            string.Create(CultureInfo.InvariantCulture, $"S{i}"),
            "A step under load",
            [],
            [],
            characteristics: [RoutingParts.Measure("TORQUE", "Torque", "N.m", 1.0m, 1.4m), RoutingParts.Check("SEATED", "Seated")],
            materials: [RoutingParts.Material("BOND", "LOAD-ADH", "lot")]))]);
        (string Type, JsonObject Body)[] definitions =
        [
            ("site-defined", new() { ["site"] = "LOAD", ["description"] = "Load", ["timeZone"] = "Etc/UTC" }),
            ("station-defined", new() { ["subject"] = Station, ["site"] = "LOAD", ["description"] = "Load" }),
            ("person-defined", new() { ["subject"] = "LOAD-1", ["displayName"] = "LOAD-1" }),
            ("item-defined", new() { ["item"] = Item, ["kind"] = "product", ["description"] = "Load" }),
            ("item-defined", new() { ["item"] = "LOAD-ADH", ["kind"] = "consumable", ["description"] = "Load" }),
            ("lot-received", new() { ["lot"] = Body.Lot("LOAD-ADH", "L1"), ["isReleased"] = true, ["station"] = Station }),
            ("routing-drafted", new() { ["revision"] = RoutingParts.Revision(Item, "A", "Load", RoutingParts.Always(), steps, []) }),
            ("routing-released", new() { ["item"] = Item, ["revision"] = "A" }),
        ];
        foreach (var (type, body) in definitions)
        {
            body.Insert(0, "occurredAt", Body.Time(at));
            body.Insert(0, "type", type);
            body.Insert(0, "factId", random.Id());
            var answer = await client.PostAsync(Body.Write(body), key, TimeSpan.Zero, cancellation).ConfigureAwait(false);
            if (!answer.IsAccepted)
            {
                throw new InvalidOperationException($"The service refused {type} of the load's item: {answer.Status} {answer.Code}: {answer.Detail}");
            }
        }
    }
}
