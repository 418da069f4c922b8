namespace Traceability.Domain.Judging;

/// <summary>Which tools the records of a unit name.</summary>
internal static class ToolUsageList
{
    public static ImmutableArray<ToolUsage> Of(UnitHistory history)
    {
        ImmutableArray<ToolUsage>.Builder? usages = null;
        foreach (var attempt in history.Attempts)
        {
            var uses = attempt.Record.Tools.OrEmpty();
            for (var u = 0; u < uses.Length; u++)
            {
                if (uses[u].Tool == default)
                {
                    continue;
                }

                // A step that the revision doesn't have asks for nothing, and neither does one that was never judged.
                var serves = u < attempt.ToolServes.Length ? attempt.ToolServes[u] : -1;
                (usages ??= ImmutableArray.CreateBuilder<ToolUsage>()).Add(new(
                    attempt.Record.Step,
                    attempt.Number,
                    attempt.Id,
                    uses[u].Tool,
                    uses[u].Setting,
                    serves >= 0 ? attempt.Step!.Tools[serves].Code : null,
                    attempt.At,
                    attempt.Earliest,
                    attempt.Latest,
                    attempt.Record.Station));
            }
        }

        return usages?.DrainToImmutable() ?? [];
    }
}
