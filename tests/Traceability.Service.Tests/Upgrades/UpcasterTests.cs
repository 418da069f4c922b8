using System.Text.Json.Nodes;
using Traceability.Domain.Facts;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;
using Traceability.Service.Tests.ContractTests;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Upgrades;

/// <summary>Old forms of events are brought to the present one when they are read.</summary>
public sealed class UpcasterTests
{
    // Invented: once upon a time a hold named its unit by one text and its reason "why"; before that, the reason was a number.
    private static readonly Upcasters Invented = new(
        new Upcaster("unit_stopped", "unit_stopped_v2", json => json["why"] = json["number"]!.GetValue<int>() switch { 1 => "Leak", _ => "Other" }),
        new Upcaster("unit_stopped_v2", "unit_held", json =>
        {
            var name = json["unit"]!.GetValue<string>().Split('/');
            json["unit"] = new JsonObject { ["item"] = name[0], ["serial"] = name[1] };
            json["reason"] = json["why"]!.DeepClone();
        }));

    [Theory]
    [InlineData("unit_stopped", """{"occurredAt":"2026-03-02T12:00:00Z","unit":"LAMP/1","number":1}""")]
    [InlineData("unit_stopped_v2", """{"occurredAt":"2026-03-02T12:00:00Z","unit":"LAMP/1","why":"Leak"}""")]
    [InlineData("unit_held", """{"occurredAt":"2026-03-02T12:00:00Z","unit":{"item":"LAMP","serial":"1"},"reason":"Leak"}""")]
    public void Every_form_reads_as_the_present_one(string name, string json) =>
        Assert.Equal(new UnitHeld(Some.Unit("LAMP", "1"), "Leak") { OccurredAt = Some.Noon }, FactCodec.Deserialize(name, json, Some.Noon, Invented));

    [Fact]
    public void A_record_inside_a_correction_is_raised_too()
    {
        var record = new Guid("01890a5d-ac96-774b-bcce-b302099a8057");
        var json = $$"""
            {"occurredAt":"2026-03-02T13:00:00Z","record":"{{record}}","reason":"misread","authorisedBy":"P-9",
             "replacement":{"type":"unit-stopped","occurredAt":"2026-03-02T12:00:00Z","unit":"LAMP/1","number":2} }
            """;

        var corrected = Assert.IsType<RecordCorrected>(FactCodec.Deserialize("record_corrected", json, Some.Noon, Invented));

        Assert.Equal(new UnitHeld(Some.Unit("LAMP", "1"), "Other") { OccurredAt = Some.Noon }, corrected.Replacement);
    }

    [Theory]
    [InlineData("unit_stopped", """{"occurredAt":"2026-03-02T12:00:00Z"}""")]
    [InlineData("unit_stopped", "[]")]
    [InlineData("unit_stopped", "{")]
    [InlineData("unit_stopped_v3", """{"occurredAt":"2026-03-02T12:00:00Z","unit":"LAMP/1"}""")]
    public void An_old_form_that_cannot_be_raised_is_an_unknown_and_shows_what_is_stored(string name, string json)
    {
        var unknown = Assert.IsType<UnreadableFact>(FactCodec.Deserialize(name, json, Some.Noon, Invented));

        Assert.Equal((name, json), (unknown.StoredName, unknown.Content));
    }

    [Fact]
    public void Present_forms_pass_unchanged_whatever_steps_there_are() => Assert.All(SampleFacts.All, sample =>
    {
        var (name, json) = (EventNames.Of(sample.GetType()), FactCodec.Serialize(sample));
        Assert.Equal(json, FactCodec.Serialize(FactCodec.Deserialize(name, json, Some.Noon, Invented)));
        Assert.Equal(name.Replace('_', '-'), EventNames.WireNameOf(sample.GetType()));
    });
}
