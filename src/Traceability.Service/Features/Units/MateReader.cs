using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>Which measured units to look for.</summary>
/// <param name="Item">The item.</param>
/// <param name="Step">The step that measured them.</param>
/// <param name="Characteristic">What was measured.</param>
/// <param name="Limit">The most units to look at.</param>
internal sealed record MateQuestion(ItemNumber Item, StepCode Step, Code Characteristic, int Limit);

/// <summary>Finds units in stock that were measured, each as it stands at the moment of asking.</summary>
internal sealed class MateReader(NpgsqlDataSource database, UnitReader units)
{
    /// <summary>The most units that one question looks at.</summary>
    public const int LimitMax = 200;

    /// <summary>How many it looks at if it does not say.</summary>
    public const int LimitDefault = 100;

    /// <summary>Those that are inside no other unit and have a value that counts.</summary>
    public async Task<List<FitCandidate>> FindAsync(MateQuestion question, DateTimeOffset now, CancellationToken cancellation)
    {
        var serials = new List<string>();
        await using (var command = database.CreateCommand(
            """select serial from traceability.unit where item = $1 and place = 'in-stock' order by serial collate "C" limit $2"""))
        {
            command.Parameters.Add(new() { Value = question.Item.Value });
            command.Parameters.Add(new() { Value = question.Limit });
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                serials.Add(reader.GetString(0));
            }
        }

        var found = new List<FitCandidate>();
        foreach (var serial in serials)
        {
            if (await units.FindAsync(new(question.Item, SerialNumber.Parse(serial)), [], cancellation) is { Judgement.Status.Place: Place.InStock } mate
                && mate.Parents.All(p => p.To is not null)
                && Fitting.Measured(mate.Unit, question.Step, question.Characteristic, now) is { } candidate)
            {
                found.Add(candidate);
            }
        }

        return found;
    }
}
