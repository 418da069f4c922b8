using System.Text.Json;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Units;

/// <summary>Reads the question whether a step may start.</summary>
internal static class ReadinessReader
{
    private static readonly Shape Question = new("station", "person", "supervisor", "materials", "tools", "components");

    /// <summary>The question, or every fault of it; an empty body asks about the step alone.</summary>
    public static (ReadinessQuestion? Question, ImmutableArray<Fault> Faults) Read(ReadOnlyMemory<byte> body, StepCode step, DateTimeOffset at)
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body.IsEmpty ? "{}"u8.ToArray() : body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException malformed)
        {
            return (null, [new(string.Empty, $"The body is not JSON: {malformed.Message}")]);
        }

        using (document)
        {
            var reading = new JsonReading();
            using var o = reading.Open(document.RootElement, Question);
            var question = new ReadinessQuestion(
                step,
                o.CodeOrNull<StationCode>("station"),
                o.CodeOrNull<PersonCode>("person"),
                o.List("materials", UnitFactTypes.Material),
                o.List("tools", UnitFactTypes.Tool),
                o.List("components", UnitFactTypes.Component),
                at)
            {
                Supervisor = o.CodeOrNull<PersonCode>("supervisor"),
            };
            return reading.HasFaults ? (null, reading.Faults) : (question, []);
        }
    }
}
