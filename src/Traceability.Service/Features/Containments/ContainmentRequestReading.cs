using System.Text.Json;
using Traceability.Contracts.Containments;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage.Scopes;

namespace Traceability.Service.Features.Containments;

/// <summary>A containment that is to be opened.</summary>
internal sealed record AskedContainment(
    Guid Id, ContainmentId Containment, string Title, string Reason, Suspect Suspect, string Question, PersonCode Person, bool HoldsLate)
{
    /// <summary>What tells a repeat from a conflict.</summary>
    public byte[] ContentHash()
    {
        using var content = JsonSerializer.SerializeToDocument(new
        {
            type = "containment-opened",
            containment = Containment.Value,
            title = Title,
            reason = Reason,
            suspect = Question,
            person = Person.Value,
            holdsLate = HoldsLate,
        });
        return FactContent.Hash(content.RootElement);
    }
}

/// <summary>Reads a <see cref="ContainmentRequest"/>.</summary>
internal static class ContainmentRequestReading
{
    private static readonly Shape Form = new("factId", "containment", "title", "reason", "suspect", "person", "holdsLate");

    /// <summary>The request, or the refusal with every fault.</summary>
    public static (AskedContainment? Asked, Refusal? Refusal) Read(ReadOnlyMemory<byte> body, IScopeQuestions questions) =>
        QuestionReading.Read(body, (reading, element) =>
        {
            using var o = reading.Open(element, Form);
            var id = o.Id("factId");
            var containment = o.Code<ContainmentId>("containment");
            var (title, reason) = (o.Text("title"), o.Text("reason"));
            var suspect = o.Object<Suspect>("suspect", questions.Read);
            var person = o.Code<PersonCode>("person");
            var holdsLate = o.Flag("holdsLate", absent: false);
            return new AskedContainment(id, containment, title, reason, suspect!, reading.HasFaults ? string.Empty : questions.Write(suspect!), person, holdsLate);
        });
}
